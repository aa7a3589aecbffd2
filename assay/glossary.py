"""Every public quantity: its name, symbol, unit and meaning. The only place where a name gets its unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from assay.errors import DataError, nearest


@dataclass(frozen=True, slots=True)
class Term:
    """One quantity of the library.

    Parameters
    ----------
    name : str
        The name used for parameters, results and saved files.
    symbol : str
        The symbol, as LaTeX.
    unit : str
        The unit used inside the library, ``"1"`` for a pure number.
    meaning : str
        What it is.

    """

    name: str
    symbol: str
    unit: str
    meaning: str


_TERMS = (
    # weighing
    Term("gross_reading", r"m_\mathrm{g}", "g", "balance reading of vessel and portion"),
    Term(
        "tare_reading", r"m_\mathrm{t}", "g", "balance reading of the vessel alone, or after the portion was tipped out"
    ),
    Term("gross_linearity", r"\delta m_\mathrm{g}", "g", "linearity error of the balance at the gross load"),
    Term("tare_linearity", r"\delta m_\mathrm{t}", "g", "linearity error of the balance at the tare load"),
    Term("gross_repeatability", r"\epsilon m_\mathrm{g}", "g", "repeatability and rounding error of the gross reading"),
    Term("tare_repeatability", r"\epsilon m_\mathrm{t}", "g", "repeatability and rounding error of the tare reading"),
    Term("gross_eccentricity", r"\eta m_\mathrm{g}", "g", "error of the gross load that does not stand in the middle"),
    Term("tare_eccentricity", r"\eta m_\mathrm{t}", "g", "error of the tare load that does not stand in the middle"),
    Term("relative_drift", r"\delta_\mathrm{d}", "1", "share by which the balance reads too much since adjusted"),
    Term("mass", "m", "g", "mass of a portion, as weighed in air"),
    Term("vacuum_mass", "m", "g", "mass of a portion, corrected for the buoyancy of air"),
    Term("temperature", "T", "K", "temperature of the air"),
    Term("pressure", "p", "Pa", "pressure of the air"),
    Term("relative_humidity", "h", "1", "relative humidity of the air"),
    Term("air_density", r"\rho_\mathrm{a}", "g/L", "density of the air"),
    Term("air_density_error", r"\delta\rho_\mathrm{a}", "g/L", "density of the air less that of its equation"),
    Term("weights_density", r"\rho_\mathrm{w}", "g/L", "density of the weights by which the balance was adjusted"),
    Term("buoyancy_factor", "B", "1", "mass over reading of the balance"),
    Term("water_density", r"\rho_\mathrm{W}", "g/L", "density of water"),
    Term("water_density_error", r"\delta\rho_\mathrm{W}", "g/L", "density of the water less that of its equation"),
    Term("z_factor", "Z", "L/g", "volume of the water for a gram of its reading"),
    Term("evaporated_mass", r"m_\mathrm{e}", "g", "water that evaporated between filling and reading"),
    Term("purity", "w", "g/g", "mass fraction of the named substance in what was weighed"),
    # amounts
    Term("molar_mass", "M", "g/mol", "molar mass"),
    Term("atomic_weight", r"A_\mathrm{r}", "g/mol", "standard atomic weight of an element, times 1 g/mol"),
    Term("amount", "n", "mol", "amount of substance"),
    Term("amount_concentration", "c", "mol/L", "amount concentration of the named species"),
    Term("mass_concentration", r"\rho", "g/L", "mass concentration, as the named substance"),
    Term("mass_per_volume_percent", r"w/v", "g/(100 mL)", "grams of the named substance in 100 mL of solution"),
    Term("amount_content", "b", "mol/g", "amount of the named species in a gram of solution"),
    Term("mass_fraction", "w", "g/g", "mass of the named substance in a gram of solution"),
    Term("mass_percent", "w", "g/(100 g)", "grams of the named substance in 100 g of solution"),
    Term("mass_parts", "w", "mg/kg", "milligrams of the named substance in a kilogram of solution"),
    Term("density", r"\rho", "g/L", "density of the solution"),
    Term("density_half_width", r"\Delta\rho", "g/L", "half-width of a density from a table"),
    Term("scale", "s", "1", "units of the stated basis in one unit of the library"),
    Term("equivalents", "z", "1", "electrons or protons exchanged by one entity in the named reaction"),
    Term("entities", r"\nu", "1", "entities of the named substance that one entity of the species stands for"),
    # volumes
    Term("final_reading", r"r_\mathrm{f}", "L", "burette reading at the end point"),
    Term("initial_reading", r"r_\mathrm{i}", "L", "burette reading before the titration"),
    Term("final_scale_error", r"G_\mathrm{f}", "L", "scale deviation of the burette at the final reading"),
    Term("initial_scale_error", r"G_\mathrm{i}", "L", "scale deviation of the burette at the initial reading"),
    Term("lower_knot_error", r"G_k", "L", "scale deviation at the knot below the reading"),
    Term("upper_knot_error", r"G_{k+1}", "L", "scale deviation at the knot above the reading"),
    Term("upper_knot_weight", r"t", "1", "distance of the reading from the knot below, over the knot spacing"),
    Term("delivered_volume", "V", "L", "volume really delivered between two readings"),
    Term("nominal_volume", r"V_\mathrm{nom}", "L", "volume marked on the glass"),
    Term("volume_error", r"\delta V", "L", "true volume less nominal volume"),
    Term("yearly_drift", r"\delta V_\mathrm{a}", "L", "change of the error of a volume in a year"),
    Term("elapsed_years", r"\tau_\mathrm{a}", "1", "time since a volume was found over a year"),
    Term("scale_error", r"G'", "L", "deviation of a scale without one of its points"),
    Term("point_deviation", "G_p", "L", "deviation of a scale at a calibrated point"),
    Term("point_share", r"\lambda_p", "1", "by how much the deviation at a calibrated point counts at a reading"),
    Term("share_of_scale", r"\lambda_\mathrm{s}", "1", "reading over the end of its scale"),
    Term("taken_deviation", r"\delta V_\mathrm{t}", "L", "by how much more was taken in one dilution"),
    Term("made_up_deviation", r"\delta V_\mathrm{f}", "L", "by how much more was made up in one dilution"),
    Term("setting_error", r"\epsilon V", "L", "error of setting the meniscus to a graduation"),
    Term("fills", "k", "1", "number of fillings of the dispenser"),
    Term("drops", "N", "1", "number of drops that were counted"),
    Term("mean_drop_scatter", r"\delta_N", "1", "share by which the mean of some drops exceeds that of endless ones"),
    Term("volume", "V", "L", "volume"),
    Term("ware_expansion", r"\gamma", "1/K", "cubic expansion coefficient of the ware"),
    Term("water_volume_ratio", r"r_\mathrm{w}", "1", "volume of water at 20 °C over that at its temperature"),
    Term("excess_expansion", r"\beta_\mathrm{x}", "1/K", "cubic expansion of the liquid less that of water"),
    Term("temperature_difference", r"\Delta t", "K", "temperature of the liquid less 20 °C"),
    Term("titre", r"V_\mathrm{t}", "L", "volume of titrant delivered to the end point, mean of the replicates"),
    Term("blank", r"V_0", "L", "volume of titrant that the reagents alone consume"),
    Term("taken_volume", r"V_\mathrm{p}", "L", "volume taken from the more concentrated solution"),
    Term("made_up_volume", r"V_\mathrm{f}", "L", "volume to which the taken volume is made up"),
    Term("aliquot_volume", r"V_\mathrm{a}", "L", "volume of the portion that is titrated"),
    Term("dilution_factor", "F", "1", "concentration before over concentration after dilution"),
    # replicates
    Term("replicate_mean", r"\bar x", "1", "mean of replicate values, in their own unit"),
    Term(
        "replicate_scatter",
        r"\epsilon_\mathrm{A}",
        "1",
        "deviation of the mean from what endless replicates would give, in their unit",
    ),
    Term(
        "replicate_resolution",
        r"\epsilon_\mathrm{r}",
        "1",
        "rounding of the readings that the scatter cannot show, in the unit of the replicates",
    ),
    Term("replicates", r"x_i", "1", "replicate values, in their own unit"),
    # titration
    Term("standard_amount", r"n_\mathrm{s}", "mol", "amount of primary standard in the titrated portion"),
    Term("standard_concentration", r"c_\mathrm{s}", "mol/L", "amount concentration of the primary standard solution"),
    Term("titrant_concentration", r"c_\mathrm{t}", "mol/L", "amount concentration of the titrant"),
    Term("first_alkali", r"c_\mathrm{P}", "mol/L", "acid consumed to phenolphthalein for a litre of sample"),
    Term("total_alkali", r"c_\mathrm{M}", "mol/L", "acid consumed to methyl orange for a litre of sample"),
    Term("titrant_content", r"b_\mathrm{t}", "mol/g", "amount of titrant in a gram of its solution"),
    Term(
        "end_point_excess",
        r"V_\mathrm{ex}",
        "L",
        "titrant delivered beyond the equivalence point when the colour is seen",
    ),
    Term("known_titre", r"V_1", "L", "titre of the titrant that is known"),
    # density
    Term("density_of_water", r"\rho_\mathrm{w}", "g/L", "density of water"),
    Term("slope", r"\rho'", "g/g", "rise of the density with the mass concentration"),
    Term("thermal_slope", r"\rho_T", "g/(L K)", "change of the density for each kelvin"),
    Term("filled_concentration", r"\rho_0", "g/L", "available chlorine when the container was filled"),
    Term("stated_concentration", r"\rho_\ell", "g/L", "available chlorine by the label"),
    Term("filled_share", "f", "1", "where the filling strength lies between today's (0) and the label's (1)"),
    Term("ageing_slope", r"\rho_\mathrm{a}", "g/mol", "change of the density for each mole in a litre that is lost"),
    Term("lost_concentration", r"\Delta c", "mol/L", "hypochlorite lost since filling"),
    Term("model_factor", r"\phi", "1", "true density over that of the model"),
    # dosing
    Term("delivered_amount", r"n_\mathrm{d}", "mol", "amount really delivered by a dose"),
    Term("required_amount", r"n_\mathrm{r}", "mol", "amount that a dose is to deliver"),
    Term("reagent_amount", r"n_\mathrm{x}", "mol", "amount of the reagent that the dose is to meet"),
    # control and sampling
    Term("mean_range", r"\bar R", "1", "mean range of subgroups, or of two results in succession, in their unit"),
    Term("range_factor", r"d_2", "1", "mean range of so many normal values over their standard deviation"),
    Term("centre", r"\bar x", "1", "central line of a control chart, in the unit of the results"),
    Term("limit_factor", "k", "1", "standard deviations from the central line of a control chart to a limit"),
    Term("short_term_s", "s", "1", "standard deviation of a plotted value, in the unit of the results"),
    Term("control_limit", r"L", "1", "limit of a control chart, in the unit of the results"),
    Term("found_value", r"x_\mathrm{f}", "1", "result of the assay of a control, in its own unit"),
    Term("known_value", r"x_\mathrm{k}", "1", "what a control is known to hold, in the same unit"),
    Term("recovery", "R", "1", "what was found of a control over what it is known to hold"),
    Term("earlier_titrant", r"c_1", "mol/L", "titrant at the earlier of two standardisations"),
    Term("later_titrant", r"c_2", "mol/L", "titrant at the later of two standardisations"),
    Term("elapsed_share", r"\tau", "1", "time since the earlier standardisation over that between the two"),
    Term("drift_departure", r"\delta c", "mol/L", "distance of a titrant from the line through two standardisations"),
    Term("portion_strength", r"c_\mathrm{p}", "mol/L", "strength of the portion that was titrated"),
    Term("container_strength", "c", "mol/L", "strength of the container when it was sampled"),
    Term("sample_deviation", r"\delta_\mathrm{s}", "1", "strength of the samples relative to the container, less one"),
    Term("lost_share", r"\lambda", "1", "share of the strength lost between sampling and titration"),
    Term("sample_mean_square", r"Q_\mathrm{s}", "1", "mean square between samples of a target, in squared units"),
    Term("analysis_mean_square", r"Q_\mathrm{a}", "1", "mean square between analyses of a sample, in squared units"),
    Term("analyses", "m", "1", "analyses of each sample"),
    Term("sampling_variance", r"s_\mathrm{s}^2", "1", "variance between samples of a target, in squared units"),
    Term("value", "y", "1", "a value of the user's own formula, in the user's own unit"),
    Term("relative_value", "q", "1", "ratio of two like quantities"),
)

#: Every term by its name.
TERMS: Mapping[str, Term] = MappingProxyType({term.name: term for term in _TERMS})


def unit_of(name: str) -> str:
    """Return the unit of a quantity by its name.

    Raises
    ------
    DataError
        If the glossary has no such name.

    Examples
    --------
    >>> unit_of("titre")
    'L'

    """
    if name not in TERMS:
        like = nearest(name, TERMS, listed=("value",))
        raise DataError(
            "the glossary has no quantity of this name",
            argument="name",
            given=name,
            remedy=f"{like} A quantity of your own is named 'value'.",
        )
    return TERMS[name].unit
