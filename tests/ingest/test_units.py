import pint
import pytest

from ingest.units import ATMOSPHERE_KPA, UNITS, awg_mm2, conversion


@pytest.mark.parametrize(
    ("unit", "value", "inner", "tolerance"),
    [
        # NIST SP 811, appendix B.8; tolerance: last printed digit
        ("psi", 1, 6.894757, 1e-6),
        ("bar", 1, 100, 1e-9),
        ("mbar", 1, 0.1, 1e-9),
        ("mpa", 1, 1000, 1e-9),
        ("ft_water", 1, 2.98907, 1e-5),  # conventional foot of water
        ("m_water", 1, 9.80665, 1e-5),
        ("gal", 1, 3.785412, 1e-6),
        ("ft", 1, 0.3048, 1e-9),
        ("hp", 1, 0.7456999, 1e-7),  # 550 ft lbf/s
        # gauge = absolute less the standard atmosphere, 101.325 kPa = 14.696 psi
        ("psi_abs", 14.696, 0, 1e-3),
        ("kpa_abs", 101.325, 0, 1e-9),
        ("bar_abs", 2.01325, 100, 1e-9),
        # fixed points of water
        ("f", 32, 0, 1e-9),
        ("f", 212, 100, 1e-9),
        ("gpm", 10, 37.85412, 1e-5),
        ("lps", 1, 60, 1e-9),
        ("m3h", 6, 100, 1e-9),
        ("ma", 1500, 1.5, 1e-9),
        ("kv", 0.4, 400, 1e-9),
    ],
)
def test_a_unit_becomes_the_inner_one(unit, value, inner, tolerance):
    got = conversion(unit).inner(value)

    assert got == pytest.approx(inner, abs=tolerance)


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_going_in_and_out_of_a_unit_gives_the_value_back(unit):
    scale = conversion(unit)

    assert scale.outer(scale.inner(12.5)) == pytest.approx(12.5)


@pytest.mark.parametrize(
    ("size", "mm2"),
    [
        # NFPA 70 (NEC), chapter 9, table 8: area in mm2, printed to 3 digits
        ("14", 2.08),
        ("12", 3.31),
        ("10", 5.261),
        ("1/0", 53.49),
        ("0", 53.49),
        ("4/0", 107.2),
        ("0000", 107.2),
    ],
)
def test_wire_gauges_have_the_published_areas(size, mm2):
    assert awg_mm2(size) == pytest.approx(mm2, rel=0.002)


@pytest.mark.parametrize("size", ["", "5/0", "41", "-1", "12.5", "12 mm2", "heavy"])
def test_what_is_no_wire_gauge_is_refused(size):
    with pytest.raises(ValueError, match="^" + size):
        awg_mm2(size)


# The library's own names of each unit and of the inner unit of its quantity.
IN_LIBRARY = {
    "psi": ("psi", "kPa"),
    "kpa": ("kPa", "kPa"),
    "bar": ("bar", "kPa"),
    "mbar": ("mbar", "kPa"),
    "mpa": ("MPa", "kPa"),
    "ft_water": ("foot_H2O", "kPa"),
    "m_water": ("meter * gram / centimeter ** 3 * standard_gravity", "kPa"),
    "psi_abs": ("psi", "kPa"),
    "kpa_abs": ("kPa", "kPa"),
    "bar_abs": ("bar", "kPa"),
    "hz": ("Hz", "Hz"),
    "a": ("A", "A"),
    "ma": ("mA", "A"),
    "v": ("V", "V"),
    "kv": ("kV", "V"),
    "gpm": ("gallon / minute", "liter / minute"),
    "lpm": ("liter / minute", "liter / minute"),
    "lps": ("liter / second", "liter / minute"),
    "m3h": ("meter ** 3 / hour", "liter / minute"),
    "c": ("degC", "degC"),
    "f": ("degF", "degC"),
    "gal": ("gallon", "liter"),
    "l": ("liter", "liter"),
    "ft": ("foot", "meter"),
    "m": ("meter", "meter"),
    "mm2": ("mm ** 2", "mm ** 2"),
    "hp": ("horsepower", "kW"),
    "kw": ("kW", "kW"),
    "pct": ("percent", "percent"),
    "month": ("month", "month"),
    "per_kwh": ("1 / (kilowatt * hour)", "1 / (kilowatt * hour)"),
    "per_m3": ("1 / meter ** 3", "1 / meter ** 3"),
    "per_kgal": ("1 / kilogallon", "1 / meter ** 3"),
}


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_every_factor_is_that_of_a_library_of_units(unit):
    name, inner = IN_LIBRARY[unit]
    registry = pint.UnitRegistry()
    ends = [registry.Quantity(value, name).to(inner).magnitude for value in (0.0, 1.0)]
    above = ATMOSPHERE_KPA if unit.endswith("_abs") else 0.0

    made = conversion(unit)

    assert [made.inner(0.0) + above, made.inner(1.0) + above] == pytest.approx(
        ends, rel=1e-12, abs=1e-9
    )
