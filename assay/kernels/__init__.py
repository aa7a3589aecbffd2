"""The formulas: plain numbers in, plain numbers out.

A kernel is written once, with numpy operations and arithmetic only. It is evaluated on floats, on arrays of drawn
inputs, and on recorded values that give every sensitivity. It knows no unit object, no uncertainty and no state, and
never raises. Each is named ``<output>_from_<inputs>``; its parameters are names of the glossary.
"""
