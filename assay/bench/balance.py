"""Balances and weighing by difference."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from assay.bench.air import Air
from assay.bench.marks import marks
from assay.bench.weighing import MassTitre, Weighing, conventional_air
from assay.errors import DataError, DomainError, Problems
from assay.kernels.weighing import mass_from_indicated_mass
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.plain import plain
from assay.units import Written, read

#: Nothing that is weighed on a balance is lighter or heavier, g/L: a choice of this library, to catch a wrong unit.
_LIGHTEST, _HEAVIEST = 100.0, 23_000.0
_LOADS = ("gross", "tare")


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
    repeatability_dof : float
        Degrees of freedom of the repeatability: of ten readings nine; infinite if it is taken as known. The two
        readings of a weighing share them; several weighings count them each for itself, which is too many where they
        are few and the repeatability is most of u.
    eccentricity : str or quantity, optional
        Half-width of the error of a load that does not stand in the middle, from the test at about the loads weighed.
        It is new each time a load is put down, so that replicates show it; a single weighing counts it.
    drift : str or quantity, optional
        Half-width by which the balance may have drifted since it was adjusted; like a wrong weight it acts on all
        loads in proportion, so it is stated at ``drift_load``.
    drift_load : str or quantity
        The load at which the drift was found; ``"100 g"`` if not stated.

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
    repeatability_dof: float = field(default=math.inf, kw_only=True)
    eccentricity: Written | None = field(default=None, kw_only=True)
    drift: Written | None = field(default=None, kw_only=True)
    drift_load: Written = field(default="100 g", kw_only=True)
    _id: str = field(init=False, repr=False, compare=False)
    _masses: tuple[float, float, float] = field(init=False, repr=False, compare=False)
    _further: tuple[float, float, float] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read every argument."""
        problems = Problems()
        masses = [
            problems.attempt(_specification, getattr(self, argument), argument)
            for argument in ("readability", "repeatability", "linearity")
        ]
        further = [
            0.0 if written is None else problems.attempt(_specification, written, argument)
            for argument, written in (
                ("eccentricity", self.eccentricity),
                ("drift", self.drift),
                ("drift_load", self.drift_load),
            )
        ]
        problems.raise_any()
        if not plain(self.repeatability_dof, argument="repeatability_dof") >= 1.0:
            raise DomainError(
                "degrees of freedom are 1 or more",
                argument="repeatability_dof",
                given=self.repeatability_dof,
                remedy="Of n readings they are n - 1.",
            )
        if self.drift is not None and not further[2] > 0.0:
            raise DomainError("a load is above zero", argument="drift_load", given=str(self.drift_load))
        id_ = fresh_id("balance") if self.name is None else f"balance/{path_part(self.name, argument='name')}"
        object.__setattr__(self, "_id", id_)
        object.__setattr__(self, "_masses", tuple(masses))
        object.__setattr__(self, "_further", tuple(further))

    @property
    def id(self) -> str:
        """The path under which its influences are known."""
        return self._id

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"balance {'without a name' if self.name is None else self.name}"

    def by_difference(
        self, gross: Written, tare: Written, *, density: Written | None = None, air: Air | None = None
    ) -> Weighing:
        """Return a weighing from the readings with and without the portion.

        Parameters
        ----------
        gross, tare : str or quantity
            The two readings.
        density : str or quantity, optional
            Density of what is weighed, such as ``"1.636 g/mL"``: its mass is then corrected for the buoyancy of air.
            It counts as known within 2 %, which moves the mass of water by 0.0024 %.
        air : Air, optional
            The air at the balance; 1.2 g/L within 10 % if it is not stated.

        Raises
        ------
        DomainError
            If the gross reading is not above the tare, the density is none of something weighed, or an air is stated
            without a density.

        """
        found = self._between(gross, tare, ("gross", "tare"), "the gross reading is not above the tare")
        return _in_air(found, density, air)

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

    def titre(
        self,
        before: Written,
        after: Written,
        *,
        density: Written | None = None,
        air: Air | None = None,
        rough: bool = False,
        void: str = "",
    ) -> MassTitre:
        """Return a gravimetric titre from the mass of the titrant's bottle before and after the titration.

        Parameters
        ----------
        before, after : str or quantity
            Readings of the bottle or syringe.
        density, air
            Density of the titrant, and the air, as for `by_difference`.
        rough, void
            As for `Burette.titre`.

        Raises
        ------
        DomainError
            If the bottle did not lose mass, and as for `by_difference`.

        Examples
        --------
        >>> balance = Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")
        >>> balance.titre("82.415 g", "57.466 g").shown
        '24.949 g'

        """
        weighing = self._between(before, after, ("before", "after"), "the reading before is not above the one after")
        return MassTitre(weighing=_in_air(weighing, density, air), **marks(rough=rough, void=void))

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

    def indicated(self, mass: Estimate, record: str, *, once: bool = True) -> Estimate:
        """Return a mass by its readings with eccentricity and drift, g, where they are stated.

        Where a load stands is new each time it is put down: it counts ``once``, and not where replicates show it.
        """
        if self.drift is None and (self.eccentricity is None or not once):
            return mass
        return evaluate(
            mass_from_indicated_mass,
            name="mass",
            label=mass.label,
            mass=mass,
            gross_eccentricity=self._place_error(record, "gross", once=once),
            tare_eccentricity=self._place_error(record, "tare", once=once),
            relative_drift=self._scale_error(),
        )

    def _place_error(self, record: str, load: str, *, once: bool) -> Estimate:
        """Return the error of one load because it does not stand in the middle, g: new each time it is put down."""
        name = f"{load}_eccentricity"
        half_width = self._further[0]
        if half_width == 0.0 or not once:
            return Estimate.exactly(0.0, name=name, label="eccentricity, not stated or shown by the replicates")
        influence = Influence.within(
            f"{record}/eccentricity/{load}",
            label=f"eccentricity of {self.label}, {load}",
            half_width=half_width,
            source="specification of the balance",
        )
        return Estimate.from_influence(influence, name=name)

    def _scale_error(self) -> Estimate:
        """Return the share by which the balance reads too much since it was adjusted: the same in all it weighs."""
        _, drift, load = self._further
        if drift == 0.0:
            return Estimate.exactly(0.0, name="relative_drift", label="drift, not stated")
        influence = Influence.within(
            f"{self._id}/drift",
            label=f"drift of {self.label} since it was adjusted",
            half_width=drift / load,
            source=f"stated: ±{1000 * drift:g} mg at {load:g} g",
        )
        return Estimate.from_influence(influence, name="relative_drift")

    def u_reading(self) -> float:
        """Return the standard uncertainty of one reading, g: repeatability, or rounding where that is larger."""
        readability, repeatability, _ = self._masses
        return max(repeatability, readability / math.sqrt(12.0))

    def reading_errors(self, record: str) -> tuple[Estimate, Estimate]:
        """Return the repeatability errors of the gross and the tare reading, g: two errors by one estimated s."""
        u = self.u_reading()
        # Where the rounding is larger, it is what counts, and it is known.
        dof = self.repeatability_dof if u == self._masses[1] else math.inf
        joint = Joint(
            id=f"{record}/repeatability",
            label=f"repeatability of {self.label}",
            member_ids=tuple(f"{record}/repeatability/{load}" for load in _LOADS),
            values=(0.0, 0.0),
            covariance=((u * u, 0.0), (0.0, u * u)),
            dof=dof,
            source="specification of the balance",
        )
        if math.isinf(dof):  # what is known needs no common term
            members = tuple(replace(member, joint=None) for member in joint.members())
        else:
            members = joint.members()
        gross, tare = (
            Estimate.from_influence(member, name=f"{load}_repeatability")
            for load, member in zip(_LOADS, members, strict=True)
        )
        return gross, tare


def _in_air(weighing: Weighing, density: Written | None, air: Air | None) -> Weighing:
    """Return a weighing that is corrected for the buoyancy of what is weighed, where its density is stated."""
    if density is None:
        if air is not None:
            raise DomainError(
                "the buoyancy of what is weighed takes its density as well as the air",
                argument="density",
                given="nothing",
                remedy="Write density='1.636 g/mL' of the substance, or leave the air out.",
            )
        return weighing
    given: object = air
    if not (given is None or isinstance(given, Air)):
        raise DataError(
            "this does not tell what the air was like",
            argument="air",
            given=str(given),
            expected="an Air",
            remedy="Write Air('21.5 °C', pressure='1008 hPa', humidity='45 %'), or leave it out.",
        )
    return replace(weighing, density=weighed_density(density), air=conventional_air() if air is None else air)


def weighed_density(density: Written, *, argument: str = "density") -> float:
    """Return the density of something that is weighed, g/L.

    Raises
    ------
    DomainError
        If nothing that is weighed has such a density.
    UnitError
        If it has no unit or a wrong one.

    """
    heavy = read(density, "density", argument=argument)
    if not _LIGHTEST <= heavy <= _HEAVIEST:
        raise DomainError(
            "this is no density of something weighed on a balance",
            argument=argument,
            given=str(density),
            expected="0.1 g/mL to 23 g/mL",
            remedy="Check the unit: water has 1 g/mL, or 1000 g/L.",
        )
    return heavy


def _specification(written: Written, argument: str) -> float:
    """Return a mass from a balance's specification, g."""
    mass = read(written, "mass", argument=argument)
    if mass < 0.0 or (argument == "readability" and mass == 0.0):
        raise DomainError("this is not negative, and the readability above zero", argument=argument, given=str(written))
    return mass
