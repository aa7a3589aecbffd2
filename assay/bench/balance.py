"""Balances and weighing by difference."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field

from assay.errors import DomainError, Problems
from assay.kernels.weighing import mass_from_readings
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.units import Written, read


@dataclass(frozen=True, slots=True)
class Balance:
    """A balance: the same name is the same influence wherever it is used.

    Linearity is one influence for the gross and one for the tare load, shared by all portions weighed on the balance,
    so that it does not average out; repeatability is new in each reading and contains the rounding to the last digit.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    readability : str or quantity
        Value of the last digit, such as ``"0.1 mg"``.
    repeatability : str or quantity
        Standard deviation of repeated readings.
    linearity : str or quantity
        Half-width of the linearity error.

    Raises
    ------
    UnitError
        If a mass has no unit or a wrong one.
    DomainError
        If a mass is negative, or the readability zero.

    References
    ----------
    [eurachem-cg4] Example A2: linearity rectangular and counted twice. [jcgm-100-2008] F.2.2.1: rounding, rectangular.

    Examples
    --------
    >>> balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")
    >>> balance.by_difference("60.5450 g", "60.1562 g").mass("example")
    <Estimate 'mass of example': 0.38880 g, u = 0.00019 g, dof = ∞>

    """

    name: str | None = None
    readability: Written = field(kw_only=True)
    repeatability: Written = field(kw_only=True)
    linearity: Written = field(kw_only=True)
    _id: str = field(init=False, repr=False, compare=False)
    _masses: tuple[float, float, float] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read every argument."""
        problems = Problems()
        masses = [
            problems.attempt(_specification, getattr(self, argument), argument)
            for argument in ("readability", "repeatability", "linearity")
        ]
        problems.raise_any()
        id_ = fresh_id("balance") if self.name is None else f"balance/{path_part(self.name, argument='name')}"
        object.__setattr__(self, "_id", id_)
        object.__setattr__(self, "_masses", tuple(masses))

    @property
    def id(self) -> str:
        """The path under which its influences are known."""
        return self._id

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"balance {'without a name' if self.name is None else self.name}"

    def by_difference(self, gross: Written, tare: Written) -> Weighing:
        """Return a weighing from the readings with and without the portion.

        Raises
        ------
        DomainError
            If the gross reading is not above the tare.

        """
        return self._between(gross, tare, ("gross", "tare"), "the gross reading is not above the tare")

    def _between(self, first: Written, second: Written, arguments: tuple[str, str], problem: str) -> Weighing:
        problems = Problems()
        heavy = problems.attempt(read, first, "mass", argument=arguments[0])
        light = problems.attempt(read, second, "mass", argument=arguments[1])
        problems.raise_any()
        if heavy <= light:
            raise DomainError(
                f"{problem}, {second}.", argument=arguments[0], given=str(first), remedy="Are the two exchanged?"
            )
        return Weighing(balance=self, gross=heavy, tare=light)

    def titre(self, before: Written, after: Written, *, rough: bool = False, void: str = "") -> MassTitre:
        """Return a gravimetric titre from the mass of the titrant's bottle before and after the titration.

        Parameters
        ----------
        before, after : str or quantity
            Readings of the bottle or syringe.
        rough, void
            As for `Burette.titre`.

        Raises
        ------
        DomainError
            If the bottle did not lose mass.

        Examples
        --------
        >>> balance = Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")
        >>> balance.titre("82.415 g", "57.466 g").shown
        '24.949 g'

        """
        weighing = self._between(before, after, ("before", "after"), "the reading before is not above the one after")
        return MassTitre(weighing=weighing, rough=rough, void=void.strip())

    def linearity_error(self, load: str, *, weighed: str = "") -> Estimate:
        """Return the linearity error at the ``"gross"`` or the ``"tare"`` load, g.

        It is a property of the load. What is ``weighed`` in the same way (portions of standards, samples, titres)
        shares it; a sample and a standard do not, nor do a titre and its blank: subtracting a blank never cancels it.
        """
        place = f"{weighed} {load}".strip()
        return Estimate.from_influence(
            Influence.within(
                f"{self._id}/linearity/{place}",
                label=f"linearity of {self.label}, {place}",
                half_width=self._masses[2],
                source=f"specification of the balance, ±{1000 * self._masses[2]:g} mg",
            ),
            name=f"{load}_linearity",
        )

    def reading_error(self, record: str, load: str) -> Estimate:
        """Return the repeatability error of one reading, g; a repeatability below the rounding is raised to it."""
        readability, repeatability, _ = self._masses
        return Estimate.from_influence(
            Influence(
                id=f"{record}/repeatability/{load}",
                label=f"repeatability of {self.label}, {load}",
                value=0.0,
                u=max(repeatability, readability / math.sqrt(12.0)),
                source="specification of the balance",
            ),
            name=f"{load}_repeatability",
        )


def _specification(written: Written, argument: str) -> float:
    """Return a mass from a balance's specification, g."""
    mass = read(written, "mass", argument=argument)
    if mass < 0.0 or (argument == "readability" and mass == 0.0):
        raise DomainError("this is not negative, and the readability above zero", argument=argument, given=str(written))
    return mass


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """Readings of one weighing by difference; made by `Balance.by_difference`.

    Parameters
    ----------
    balance : Balance
        The balance.
    gross, tare : float [g]
        Readings with and without the portion.

    References
    ----------
    [eurachem-cg4] Example A2: weighing by difference, linearity counted twice.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> round(balance.by_difference("21.4312 g", "20.5402 g").nominal, 4)
    0.891

    """

    balance: Balance
    gross: float
    tare: float

    @property
    def nominal(self) -> float:
        """Mass by the readings, g."""
        return round(self.gross - self.tare, 9)

    @property
    def path(self) -> str:
        """The path under which it is known: the same wherever what was weighed is used."""
        return f"{self.balance.id}/weighing/{hashlib.sha256(self.readings().encode()).hexdigest()[:10]}"

    def mass(self, record: str, *, repeatability: bool = True, weighed: str = "") -> Estimate:
        """Return the mass, g.

        Parameters
        ----------
        record : str
            The path under which the weighing is known.
        repeatability : bool
            Whether the repeatability of the readings is counted here; not if the scatter of replicates shows it.
        weighed : str
            What is weighed, if not a standard; see `Balance.linearity_error`.

        """
        nothing = Estimate.exactly(0.0, name="gross_repeatability", label="repeatability, shown by the replicates")
        return evaluate(
            mass_from_readings,
            name="mass",
            label=f"mass of {record.rsplit('/', 1)[-1]}",
            gross_reading=self.gross,
            tare_reading=self.tare,
            gross_linearity=self.balance.linearity_error("gross", weighed=weighed),
            tare_linearity=self.balance.linearity_error("tare", weighed=weighed),
            gross_repeatability=self.balance.reading_error(record, "gross") if repeatability else nothing,
            tare_repeatability=self.balance.reading_error(record, "tare") if repeatability else nothing,
        )

    def u_repeatability(self) -> float:
        """Return the standard uncertainty of the mass from repeatability and rounding alone, g."""
        return self.balance.reading_error("", "gross").u * math.sqrt(2.0)

    def readings(self) -> str:
        """Return the readings as text that is the same for the same readings."""
        return f"{self.gross!r}-{self.tare!r}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MassTitre:
    """A titre by mass; made by `Balance.titre`. It needs no burette and no temperature.

    Parameters
    ----------
    weighing : Weighing
        What the bottle lost.
    rough : bool
        Whether it was a trial run.
    void : str
        The reason why it does not count; empty if it does.

    References
    ----------
    common practice: gravimetric titration, the bottle weighed before and after.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> balance.titre("82.4150 g", "57.4660 g").shown
    '24.949 g'

    """

    weighing: Weighing
    rough: bool = False
    void: str = ""

    @property
    def kept(self) -> bool:
        """Whether it counts."""
        return not self.rough and not self.void

    @property
    def nominal(self) -> float:
        """Mass by the readings, g."""
        return self.weighing.nominal

    @property
    def unit(self) -> str:
        """Unit of `nominal`."""
        return "g"

    @property
    def shown(self) -> str:
        """The titre as it is told in messages."""
        return f"{self.nominal:.6g} g"

    def measure(self, record: str, *, of: str = "titre") -> Estimate:
        """Return the mass delivered in a ``"titre"`` or a ``"blank"``, g; the replicates show the repeatability."""
        return self.weighing.mass(record, repeatability=False, weighed=of)

    def readings(self) -> str:
        """Return the readings as text that is the same for the same readings."""
        return self.weighing.readings()
