"""What a kernel works on."""

from __future__ import annotations

from typing import Any, TypeAlias

#: A float, a numpy array, or a value that records its operations. Python has no type for "anything numpy computes
#: with", so it is ``Any`` under a name of its own.
Value: TypeAlias = Any
