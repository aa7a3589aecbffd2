"""Saving and loading 10⁴ assays that share a titrant and instruments, against their plain numbers as JSON.

Ours is `assay.save` and `assay.load`. The peer takes the plain numbers from the same results and writes them with
`json.dumps`, without spaces: for each assay its value, u, degrees of freedom and derivatives, and the numbers of the
influences that it alone has (value, u and degrees of freedom; values, covariance and degrees of freedom of a joint);
and once, ready beforehand, the influences and the joints that several assays share, in words and numbers. It has no id
and no word of an assay's own, no facts, no flags and no digest. `json.loads` gives it back as lists. Both write and
read a file. Our `load` checks the whole file and makes each result when it is asked for: one, here.

``python tests/benchmarks/persistence.py [ASSAYS…]`` prints sizes and times at several numbers of assays, and beside
them the time over that of `json.dumps` alone, of lists that stand ready, and of loading and then making every result,
each with its u and degrees of freedom, over `json.loads`.
"""

from __future__ import annotations

import argparse
import atexit
import gc
import json
import math
import shutil
import statistics
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from assay import (
    Balance,
    Burette,
    Dilution,
    Estimate,
    Flask,
    Influence,
    Pipette,
    PrimaryStandard,
    Sampling,
    StandardSolution,
    Strength,
    assay_hypochlorite,
    load,
    save,
    standardise_by_aliquots,
)
from assay.metrology.joint import Joint

ASSAYS = 10_000
SIZES = (100, 1_000, 10_000)


@cache
def results(assays: int = ASSAYS) -> dict[str, Strength]:
    """Return assays of triplicates with one titrant and one set of instruments; the readings are invented."""
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    p10, p25 = Pipette("P10", capacity="10 mL"), Pipette("P25", capacity="25 mL")
    flask, drum_flask = Flask("F1", capacity="250 mL"), Flask("F2", capacity="250 mL")
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    iodate = PrimaryStandard("potassium iodate", lot="2219", purity="99.95 % w/w", half_width="0.05 % w/w")
    solution = StandardSolution(standard=iodate, weighing=balance.by_difference("21.4312 g", "20.5402 g"), flask=flask)
    titres = [burette.titre(titre) for titre in ("24.95 mL", "25.00 mL", "24.95 mL")]
    blank = burette.titre("0.05 mL")
    titrant = standardise_by_aliquots(solution, aliquot=p25, titres=titres, blank=blank, record="titrant")
    sampling = Sampling(method="drum rolled, drawn through the tap", delay="15 min")

    def one(k: int) -> Strength:
        lowest = 15.0 + 0.05 * (k % 307)
        steps = (0.0, 0.05 * (1 + k % 2), 0.05 * (k // 2 % 3))
        return assay_hypochlorite(
            titrant,
            aliquot=p25,
            dilutions=[Dilution(p10, drum_flask)],
            titres=[burette.titre(f"{lowest + step:.2f} mL") for step in steps],
            blank=blank,
            sampling=sampling,
            record=f"sample {k + 1}",
        )

    made = {f"sample {k + 1}": one(k) for k in range(assays)}
    # As in a process that only loads: the collector does not look through all this again while either is timed.
    gc.collect()
    gc.freeze()
    return made


# ---------------------------------------------------------------------------------------------------------------- peer
def _number(x: float) -> float | None:
    return x if math.isfinite(x) else None


def _words_and_numbers(thing: Influence | Joint) -> dict[str, Any]:
    """Return all that is known of a shared influence or joint; a member names its joint."""
    names = [name for name in thing.__slots__ if name != "joint"]
    found = {name: _number(x) if isinstance(x := getattr(thing, name), float) else x for name in names}
    joint = thing.joint if isinstance(thing, Influence) else None
    return found if joint is None else {**found, "joint": joint.id}


@cache
def _shared(assays: int) -> tuple[frozenset[str], dict[str, Any]]:
    """Return the ids of what several assays share, and one copy of it."""
    estimates = [strength.estimate for strength in results(assays).values()]
    uses = Counter(id_ for estimate in estimates for id_ in estimate.influences)
    influences = {id_: influence for estimate in estimates for id_, influence in estimate.influences.items()}
    shared = [influences[id_] for id_, n in uses.items() if n > 1]
    joints = {i.joint.id: i.joint for i in shared if i.joint is not None}
    copied = {
        "influences": [_words_and_numbers(influence) for influence in shared],
        "joints": [_words_and_numbers(joint) for joint in joints.values()],
    }
    return frozenset(i.id for i in shared), copied


def _plain_numbers(estimate: Estimate, shared: frozenset[str]) -> list[Any]:
    own = [i for id_, i in estimate.influences.items() if id_ not in shared]
    joints = {i.joint.id: i.joint for i in own if i.joint is not None}
    return [
        estimate.value,
        estimate.u,
        _number(estimate.dof),
        list(estimate.sensitivities.values()),
        [[i.value, i.u, _number(i.dof)] for i in own if i.joint is None],
        [[j.values, j.covariance, _number(j.dof)] for j in joints.values()],
    ]


def plain(assays: int = ASSAYS) -> dict[str, Any]:
    """Return the plain numbers of the results, and the copy of what they share."""
    shared, copied = _shared(assays)
    return {**copied, "results": [_plain_numbers(strength.estimate, shared) for strength in results(assays).values()]}


# ------------------------------------------------------------------------------------------------------- what is timed
@cache
def _folder() -> Path:
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder)
    return folder


def save_ours(assays: int = ASSAYS) -> float:
    """Return the seconds in which the results are saved."""
    ready = results(assays)
    return _seconds(lambda: save(_folder() / "ours.json", **ready))


def save_peer(assays: int = ASSAYS) -> float:
    """Return the seconds in which the plain numbers are taken from the results and written."""
    _shared(assays)
    return _seconds(lambda: _write(plain(assays)))


def dump_peer(assays: int = ASSAYS) -> float:
    """Return the seconds in which plain numbers that stand ready are written."""
    ready = plain(assays)
    return _seconds(lambda: _write(ready))


def _write(numbers: dict[str, Any]) -> None:
    (_folder() / "peer.json").write_text(json.dumps(numbers, separators=(",", ":")), encoding="utf-8")


def load_ours(assays: int = ASSAYS) -> float:
    """Return the seconds in which the file is read and checked as a whole, and one result is made."""
    _written(assays)
    return _seconds(lambda: load(_folder() / "ours.json")["sample 1"])


def make_ours(assays: int = ASSAYS) -> float:
    """Return the seconds in which the file is read and every result is made."""
    _written(assays)
    return _seconds(lambda: list(load(_folder() / "ours.json").values()))


def load_peer(assays: int = ASSAYS) -> float:
    """Return the seconds in which the plain numbers are read."""
    _written(assays)
    return _seconds(lambda: json.loads((_folder() / "peer.json").read_text(encoding="utf-8")))


def size_ours(assays: int = ASSAYS) -> float:
    """Return the size of our file, B."""
    _written(assays)
    return float((_folder() / "ours.json").stat().st_size)


def size_peer(assays: int = ASSAYS) -> float:
    """Return the size of the plain numbers, B."""
    _written(assays)
    return float((_folder() / "peer.json").stat().st_size)


@lru_cache(maxsize=1)  # the files of one number of assays at a time
def _written(assays: int) -> None:
    save_ours(assays)
    save_peer(assays)


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Print a line for each number of assays."""
    parser = argparse.ArgumentParser(description="Size and time of files of assays, over those of their plain numbers.")
    parser.add_argument("assays", nargs="*", type=int, default=SIZES)
    print("  assays   size, B   ratio   save, µs   ratio   over dumps   load, µs   ratio   and make, µs   over loads")
    for assays in parser.parse_args().assays:
        sizes = size_ours(assays), size_peer(assays)
        timed = (save_ours, save_peer, dump_peer, load_ours, load_peer, make_ours)
        runs = [[one(assays) for one in timed] for _ in range(7)]
        saved, taken, dumped, loaded, plainly, made = (statistics.median(times) for times in zip(*runs, strict=True))
        each = 1e6 / assays
        print(
            f"{assays:>8}   {sizes[0] / assays:>7.0f}   {sizes[0] / sizes[1]:>5.2f}   {each * saved:>8.1f}   "
            f"{saved / taken:>5.2f}   {saved / dumped:>10.2f}   {each * loaded:>8.1f}   {loaded / plainly:>5.2f}   "
            f"{each * made:>12.1f}   {made / plainly:>10.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
