"""A result is the same thing in every thread, in every process, as a copy and as what was pickled."""

from __future__ import annotations

import copy
import multiprocessing
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import assay
from assay import (
    Burette,
    Cylinder,
    Dilution,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Strength,
    Titrant,
    assay_hypochlorite,
    combine,
    dose,
    explain,
)
from assay.metrology.joint import Joint
from assay.metrology.shapes import Shape

WITHOUT_THREADS_OF_BLAS = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


def thiosulfate() -> Titrant:
    influence = Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.0002, dof=5.0)
    return Titrant(name="thiosulfate", estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def assayed(titre: str, record: str) -> Strength:
    burette, pipette = (
        Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A"),
        Pipette("P10", capacity="10 mL"),
    )
    return assay_hypochlorite(
        thiosulfate(),
        aliquot=pipette,
        titres=[burette.titre(titre)] * 3,
        dilutions=[Dilution(pipette, Flask("F250", capacity="250 mL"))],
        blank=burette.titre("0.05 mL"),
        record=record,
    )


def fit() -> tuple[Influence, ...]:
    return Joint(
        id="same everywhere/fit",
        label="line",
        member_ids=("same everywhere/a", "same everywhere/b"),
        values=(2.0, 1.0),
        covariance=((0.04, -0.03), (-0.03, 0.09)),
        dof=3.0,
    ).members()


# -------------------------------------------------------------------------------------------------- copies and pickles
def pickled(thing: Any) -> Any:  # noqa: ANN401  (of any class)
    return pickle.loads(pickle.dumps(thing))  # noqa: S301  (written in the same line)


COPIES = pytest.mark.parametrize("again", [pickled, copy.copy, copy.deepcopy])
SHAPES = [
    Shape("normal"),
    Shape("rectangular"),
    Shape("trapezoidal", (0.5,)),
    Shape("t", (4.0,)),
    Shape("truncated normal", (-float("inf"), 1.0)),
    Shape("log-normal", (0.3,)),
    Shape("beta", (2.0, 3.0)),
    Shape("sample", (1.0, 1.0, 4.0)),
]


@COPIES
@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_a_copied_shape_is_the_shape(again: Callable[[Shape], Shape], shape: Shape) -> None:
    found = again(shape)
    assert found == shape
    assert found.quantile(0.3) == shape.quantile(0.3)


@COPIES
def test_a_copied_joint_is_the_joint(again: Callable[[Any], Any]) -> None:
    first, second = fit()
    assert again(first.joint) == first.joint
    a, b = (Estimate.from_influence(again(member), name="value") for member in (first, second))
    # 9 · 0.04 − 6 · 0.03 + 0.09 = 0.27, and the whole joint has 3 degrees of freedom.
    at_three = combine(lambda x, y: 3.0 * x + y, a, Estimate.from_influence(second, name="value"))
    assert at_three.u**2 == pytest.approx(0.27, rel=1e-12)
    assert at_three.dof == pytest.approx(3.0, rel=1e-12)
    assert combine(lambda x, y: x - y, b, Estimate.from_influence(second, name="value")).u == 0.0


@COPIES
def test_a_copied_strength_is_the_strength(again: Callable[[Strength], Strength]) -> None:
    drum = assayed("24.35 mL", "monday").accepting("portion-only", because="only the portion matters here")
    found = again(drum)
    assert (found.species, found.facts, found.flags, repr(found)) == (drum.species, drum.facts, drum.flags, repr(drum))
    assert combine(lambda x, y: x - y, drum.estimate, found.estimate).u == 0.0
    with pytest.raises(TypeError):
        found.facts["lot"] = "another"  # type: ignore[index]
    basis = "g/L available chlorine"
    assert (found.in_basis(basis).value, found.in_basis(basis).u) == (
        drum.in_basis(basis).value,
        drum.in_basis(basis).u,
    )


@COPIES
def test_a_copied_titrant_is_the_titrant(again: Callable[[Titrant], Titrant]) -> None:
    titrant, found = thiosulfate(), again(thiosulfate())
    assert (found.name, found.facts, str(found)) == (titrant.name, titrant.facts, str(titrant))
    assert combine(lambda x, y: x / y, titrant.estimate, found.estimate).u == 0.0


@COPIES
def test_a_copied_dose_is_the_dose(again: Callable[[Any], Any]) -> None:
    drum = assayed("24.35 mL", "monday")
    cylinder = Cylinder("C1", capacity="100 mL", subdivision="1 mL")
    made = dose(drum, deliver="0.100 mol OCl-", into="water", dispenser=cylinder)
    found = again(made)
    assert str(found) == str(made)
    for before, after in zip(made.volumes, found.volumes, strict=True):
        assert combine(lambda x, y: x - y, before.delivered, after.delivered).u == 0.0


def test_a_pickled_result_samples_the_shapes_of_its_influences() -> None:
    """A result that is one influence has that influence's distribution, which is not a normal one."""
    influence = Influence.sampled("seen", [1.0, 1.0, 4.0], label="seen")
    result = combine(lambda x: 2.0 * x, Estimate.from_influence(influence, name="value"), label="twice")
    run = pickled(result).monte_carlo(trials=2_000)
    assert run.linear_form_of == ("twice",)
    assert run.interval.low == pytest.approx(2.0, rel=1e-12)
    assert run.interval.high == pytest.approx(8.0, rel=1e-12)


# ------------------------------------------------------------------------------------------------------------- threads
def everything(one: Strength, two: Strength) -> tuple[object, ...]:
    """Build, combine, sample, explain and hand out; what comes of it, to the last bit."""
    ratio = combine(lambda a, b: a / b, one.estimate, two.estimate, label="ratio")
    new = assayed("20.40 mL", "tuesday")
    both = ratio.ufloat * one.estimate.ufloat / two.estimate.ufloat
    run = ratio.monte_carlo(trials=20_000, threads=2)
    return (
        (ratio.value, ratio.u, ratio.dof, [(line.ids, line.contribution) for line in ratio.budget().lines]),
        (new.estimate.value, new.estimate.u, new.estimate.dof),
        (run.value, run.u, run.interval),
        (both.nominal_value, both.std_dev),
        (one.estimate.quantity.m_as("mmol/L").std_dev, str(explain(ratio))),
        (Estimate.from_ufloat(both, label="both").u, pickled(ratio).u),
        new.in_basis("g/L available chlorine").u,
    )


def test_many_threads_get_what_one_gets() -> None:
    one, two = assayed("24.35 mL", "monday"), assayed("10.40 mL", "wednesday")
    alone = everything(one, two)
    before = sys.getswitchinterval()
    start = threading.Barrier(8)

    def work(_: int) -> tuple[object, ...]:
        start.wait()
        return everything(one, two)

    sys.setswitchinterval(1e-5)
    try:
        with ThreadPoolExecutor(8) as pool:
            found = list(pool.map(work, range(8)))
    finally:
        sys.setswitchinterval(before)
    for other in found:
        assert other == alone


def run(script: str, *arguments: str, options: tuple[str, ...] = ()) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "error", *options, "-c", script, *arguments] if "\n" in script else
        [sys.executable, "-W", "error", *options, script, *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(assay.__file__).parents[1],
        env={**os.environ, **WITHOUT_THREADS_OF_BLAS},
        timeout=120,
    )  # fmt: skip
    assert not done.returncode, done.stderr
    return done.stdout


ALL_AT_ONCE = """
import sys, threading
from concurrent.futures import ThreadPoolExecutor
import assay

sys.setswitchinterval(1e-6)
start = threading.Barrier(16)

def first(k):
    start.wait()
    volume, again = (assay.Pipette("P10", capacity="10 mL").volume() for _ in range(2))
    return volume.quantity.m_as("mL").nominal_value, volume.ufloat * again.ufloat

with ThreadPoolExecutor(16) as pool:
    found = list(pool.map(first, range(16)))
values = {value for value, _ in found}
# One number for all; which one, to its last bit, is up to the release of pint.
assert len(values) == 1 and abs(values.pop() - 10.0) < 1e-13, found
print(max((square - found[0][1]).std_dev for _, square in found))
"""


def test_the_first_use_of_all_may_be_by_many_threads_at_once() -> None:
    """Imports, the registry of units and the variables are made once, whoever comes first."""
    for _ in range(3):
        assert float(run(ALL_AT_ONCE)) == 0.0


# ----------------------------------------------------------------------------------------------------------- processes
WORKERS = """
import multiprocessing, sys
import assay

def titrant():
    known = assay.Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.001)
    return assay.Estimate.from_influence(known, name="titrant_concentration")

def titred(argument):
    concentration, name, titre, u = argument
    volume = assay.Influence(id=f"titre/{name}", label=name, value=titre, u=u)
    volume = assay.Estimate.from_influence(volume, name="value")
    result = assay.combine(lambda c, v: c * v, concentration, volume, label=name)
    return result, result.monte_carlo(trials=1000, threads=2).u, result.ufloat.std_dev

if __name__ == "__main__":
    method = sys.argv[1]
    context = multiprocessing.get_context(method)
    ours = titrant()
    # The titrant goes to the first worker, and is made anew for the second from the same facts.
    work = [(ours, "one", 25.0, 0.05), (titrant(), "two", 20.0, 0.04)]
    with context.Pool(2) as pool:
        (one, sampled, deviation), (two, _, _) = pool.map(titred, work)
    here = titred(work[0])
    assert (one.value, one.u, one.dof) == (here[0].value, here[0].u, here[0].dof)
    assert (sampled, deviation) == here[1:]
    assert assay.combine(lambda a, b: a - b, one, here[0]).u == 0.0
    ratio = assay.combine(lambda a, b: a / b, one, two)
    print(repr(ratio.u), repr((one.ufloat / two.ufloat).std_dev), repr(assay.combine(lambda a, b: a / b, one, ours).u))
"""


@pytest.mark.parametrize("method", multiprocessing.get_all_start_methods())
def test_results_from_workers_are_correlated_as_if_made_here(method: str, tmp_path: Path) -> None:
    script = tmp_path / "workers.py"
    script.write_text(WORKERS, encoding="utf-8")
    found = [float(text) for text in run(str(script), method).split()]
    # The titrant cancels: the ratio 1.25 has the relative u of two titres, 0.2 % each; and a titre has its own.
    assert found == pytest.approx([1.25 * 2.0**0.5 * 0.002] * 2 + [0.05], rel=1e-12)


FORKED = """
import itertools, os, signal, sys, threading
import assay

def worked(name, capacity):
    influence = assay.Influence(id=name, label="x", value=1.0, u=0.1)
    x = assay.Estimate.from_influence(influence, name="titre")
    assert assay.Pipette("P10", capacity=capacity, tolerance="0.02 mL").volume().value > 0.0
    return abs(x.quantity.m_as("mL").std_dev - 100.0) < 1e-9

def busy(name):
    for k in itertools.count():
        worked(f"busy/{name}/{k}", f"10.{k % 1000:03} mL")

worked("first", "10 mL")  # a fork in the middle of an import is stuck whatever is imported
for k in range(3):
    threading.Thread(target=busy, args=(k,), daemon=True).start()
sys.setswitchinterval(1e-6)
for k in range(40):
    child = os.fork()
    if not child:
        signal.alarm(20)  # a lock that nobody can release ends here
        os._exit(0 if worked("child", "25 mL") else 1)
    _, status = os.waitpid(child, 0)
    assert status == 0, (k, status)
os._exit(0)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
def test_a_child_forked_while_threads_are_at_work_is_not_stuck() -> None:
    # From 3.12 Python warns of any fork beside threads, which this is about.
    run(FORKED, options=("-W", "ignore:This process:DeprecationWarning"))
