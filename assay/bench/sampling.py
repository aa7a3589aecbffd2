"""How the tested portion was taken: without it a result speaks of the portion, not of the container."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.duplicates import SamplingPrecision
from assay.metrology.identity import path_part
from assay.metrology.influence import Influence
from assay.metrology.plain import plain
from assay.units import Written, read

DELAY = "delay-not-stated"
#: Share of its strength beyond which what a sample lost is no correction but the result.
_MOST_LOST = 0.5
_MOST_S = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """How a portion was taken from its container, how long it waited, and what is known of both.

    Parameters
    ----------
    method : str
        How it was taken, such as ``"drum rolled, 100 mL drawn through the tap after 50 mL to waste"``.
    delay : str or quantity, optional
        Time from sampling to titration, such as ``"20 min"``; a flag if it is not stated and the loss neither.
    name : str, optional
        Name of what was drawn. Assays that name the same share its deviation; without one each assay is of its own.
    samples : int
        How many samples were taken independently and then mixed, or titrated for one mean.
    places : str
        Where in the container, such as ``"top, middle and bottom"``.
    mixing : str
        How the container, or what was drawn, was mixed.
    temperature : str or quantity, optional
        At which the sample waited.
    between_samples : float or SamplingPrecision, optional
        Standard deviation between single samples of one container over its strength, 0 to 0.3, such as ``0.004``; or
        what `sampling_precision` found.
    between_dof : float
        Degrees of freedom of a number given there.
    loss : float, optional
        Share of the strength that may be lost at the most before titration, 0 to 0.5: the loss is then between none
        and so much, on one side. Half of it is added to the result.
    loss_in : str or quantity, optional
        Time in which that share may be lost, where it is known as a rate; the delay if it is left out.

    Raises
    ------
    DataError
        If the method is empty, or something is stated that cannot be used without what is missing.
    UnitError
        If a time is not a time, or a temperature not one.
    DomainError
        If a number is out of range.

    References
    ----------
    common practice: a result speaks of the container only if it is told how the portion was taken; [eurachem-ufs]
    section 6 for the variance between samples, from memory.

    Examples
    --------
    >>> print(Sampling(method="drum rolled, drawn through the tap", delay="20 min").sentence())
    Sampling: drum rolled, drawn through the tap; titrated after 20 min. What samples differ by and what was lost until
    then are not in the budget.
    >>> Sampling(method="dipped", delay="2 h", loss=0.001, loss_in="1 h").most_lost
    0.002

    """

    method: str
    delay: Written | None = None
    name: str | None = None
    samples: int = 1
    places: str = ""
    mixing: str = ""
    temperature: Written | None = None
    between_samples: float | SamplingPrecision | None = None
    between_dof: float = math.inf
    loss: float | None = None
    loss_in: Written | None = None

    def __post_init__(self) -> None:
        """Check that something is said, and that it can be."""
        if not self.method.strip():
            raise DataError("say how the portion was taken", argument="method", given=self.method)
        if self.name is not None:
            path_part(self.name, argument="name")
        self._check_times()
        given: object = self.samples
        if isinstance(given, bool) or not isinstance(given, int) or given < 1:
            raise DomainError(
                "samples are counted", argument="samples", given=self.samples, expected="a whole number, 1 or more"
            )
        if self.temperature is not None:
            read(self.temperature, "temperature", argument="temperature")
        self._check_shares()

    def _check_times(self) -> None:
        if self.delay is not None and read(self.delay, "time", argument="delay") < 0.0:
            raise DomainError(
                "a delay is not negative",
                argument="delay",
                given=str(self.delay),
                remedy="Are the two times exchanged?",
            )
        if self.loss_in is None:
            return
        if read(self.loss_in, "time", argument="loss_in") <= 0.0:
            raise DomainError("the time of a rate is above zero", argument="loss_in", given=str(self.loss_in))
        if self.delay is None or self.loss is None:
            raise DataError(
                "a rate of loss says nothing without the loss and the delay",
                argument="loss_in",
                given=str(self.loss_in),
                remedy='Write for example delay = "2 h", loss = 0.001, loss_in = "1 h".',
            )

    def _check_shares(self) -> None:
        s = self._relative_s()
        for argument, share in (("between_samples", s), ("loss", self.loss), ("between_dof", self.between_dof)):
            if share is not None:
                plain(share, argument=argument)
        if s is not None and not 0.0 <= s <= _MOST_S:
            raise DomainError(
                "out of range",
                argument="between_samples",
                given=s,
                expected=f"a standard deviation over the strength, 0 to {_MOST_S:g}",
                remedy="0.4 % is 0.004. Where samples differ more than that, mix the container and sample again.",
            )
        if not self.between_dof >= 1.0:
            raise DomainError("degrees of freedom are 1 or more", argument="between_dof", given=self.between_dof)
        if self.loss is not None and not 0.0 <= self.loss <= _MOST_LOST:
            raise DomainError(
                "out of range",
                argument="loss",
                given=self.loss,
                expected=f"the share lost at the most, 0 to {_MOST_LOST:g}",
                remedy="0.5 % is 0.005.",
            )
        if self.most_lost > _MOST_LOST:
            raise DomainError(
                "by this rate more than half of the strength may be lost before titration",
                argument="loss",
                given=self.loss,
                remedy="Titrate sooner, or sample again: this is no longer a correction.",
            )

    def _relative_s(self) -> float | None:
        found = self.between_samples
        return found.relative_s if isinstance(found, SamplingPrecision) else found

    @property
    def most_lost(self) -> float:
        """Share of the strength that may be lost at the most until titration; 0 if none is stated."""
        if self.loss is None:
            return 0.0
        if self.loss_in is None or self.delay is None:
            return float(self.loss)
        times = (read(self.delay, "time", argument="delay"), read(self.loss_in, "time", argument="loss_in"))
        return self.loss * times[0] / times[1]

    @property
    def is_counted(self) -> bool:
        """Whether it brings an influence into the budget."""
        return bool(self._relative_s()) or self.most_lost > 0.0

    def influences(self, path: str, label: str) -> tuple[Influence | None, Influence | None]:
        """Return the deviation of the samples and the share that was lost; ``None`` for what is not stated."""
        s, deviation, lost = self._relative_s(), None, None
        if s:
            found = self.between_samples
            known = isinstance(found, SamplingPrecision)
            dof = found.sampling_dof if isinstance(found, SamplingPrecision) else self.between_dof
            deviation = Influence(
                id=f"{path}/samples",
                label=f"samples of {label}",
                value=0.0,
                u=s / math.sqrt(self.samples),
                dof=dof,
                kind="A" if known else "B",
                source=f"s between samples {100 * s:.2g} %, {self.samples} taken, "
                + (f"{found.targets} targets sampled twice" if isinstance(found, SamplingPrecision) else "as stated"),
            )
        if self.most_lost > 0.0:
            lost = Influence.between(
                f"{path}/loss",
                label=f"loss of {label} before titration",
                low=0.0,
                high=self.most_lost,
                source=f"from none to {100 * self.most_lost:.2g} %, as stated",
            )
        return deviation, lost

    def flags(self, label: str) -> tuple[Flag, ...]:
        """Return the doubts that it leaves about a result."""
        doubts = () if not isinstance(self.between_samples, SamplingPrecision) else self.between_samples.flags
        if self.delay is not None or self.loss is not None:
            return doubts
        message = (
            f"how long the sample of {label} waited is not stated: what it lost before titration is not in the budget."
        )
        return (*doubts, Flag(code=DELAY, message=message))

    def sentence(self) -> str:
        """Return what was stated, as a line of a report."""
        return f"Sampling: {'; '.join(self._stated())}.{self._left_out()}"

    def _stated(self) -> Iterator[str]:
        yield self.method.strip()
        if self.samples > 1:
            yield f"{self.samples} samples"
        if self.places:
            yield f"from {self.places.strip()}"
        if self.mixing:
            yield f"mixed: {self.mixing.strip()}"
        if self.temperature is not None:
            yield f"kept at {self.temperature}"
        if self.delay is not None:
            yield f"titrated after {self.delay}"
        if self.most_lost > 0.0:
            yield f"between none and {100 * self.most_lost:.2g} % of it lost until then"

    def _left_out(self) -> str:
        left = [
            what
            for what, stated in (
                ("what samples differ by", self._relative_s() is not None),
                ("what was lost until then", self.loss is not None),
            )
            if not stated
        ]
        if not left:
            return ""
        words = " and ".join(left)
        return f" {words[:1].upper()}{words[1:]} {'are' if len(left) > 1 else 'is'} not in the budget."
