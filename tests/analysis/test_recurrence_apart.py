from datetime import date

from analysis.exposure import Watch, Watched
from analysis.groups import GROUPINGS, age_band
from analysis.recurrence_apart import Verdict, apart, cross_rows

SLOT = (False, 0)


def fleet(*rows: tuple[str, str, int, int]) -> tuple[Watched, dict[str, dict[str, str]]]:
    """Rows of installer, region, pumps with the fault, pumps in all; all of one model."""
    watches, group_of = [], {grouping: {} for grouping in GROUPINGS}
    for installer, region, n_found, n_pumps in rows:
        for n in range(n_pumps):
            pump_id = f"{installer}-{region}-{n}"
            watches.append(Watch(pump_id=pump_id, tally={SLOT: (int(n < n_found), 10.0)}))
            for grouping in GROUPINGS:
                group_of[grouping][pump_id] = "same"
            group_of["installer"][pump_id] = installer
            group_of["region"][pump_id] = region
    return Watched(watches), group_of


def unregistered(group_of: dict[str, dict[str, str]]) -> dict[str, dict[str, str]]:
    for grouping in ("pump_model", "motor_model", "age_band"):
        group_of[grouping] = dict.fromkeys(group_of[grouping], "not in the register")
    return group_of


def test_an_installer_bad_in_every_region_stays_apart():
    watches, group_of = fleet(
        ("bad", "north", 8, 15),
        ("bad", "south", 7, 15),
        ("good", "north", 2, 40),
        ("good", "south", 3, 40),
    )

    verdict, beside = apart(watches, "installer", "bad", Verdict.MORE, unregistered(group_of))

    assert (verdict, beside) == (Verdict.MORE, ())


def test_an_installer_who_works_where_everybody_has_the_fault_does_not_stay_apart():
    watches, group_of = fleet(
        ("a", "wet", 14, 30), ("b", "wet", 14, 30), ("a", "dry", 0, 5), ("b", "dry", 2, 90)
    )

    verdict, beside = apart(watches, "installer", "a", Verdict.MORE, unregistered(group_of))

    assert (verdict, beside) == (Verdict.WITHIN, (("region", "wet"),))


def test_two_groups_that_are_the_same_pumps_cannot_be_told_apart():
    watches, group_of = fleet(("a", "wet", 12, 30), ("b", "wet", 1, 2), ("b", "dry", 4, 90))
    group_of = unregistered(group_of)

    by_installer = apart(watches, "installer", "a", Verdict.MORE, group_of)
    by_region = apart(watches, "region", "wet", Verdict.MORE, group_of)

    assert by_installer == (Verdict.ENTANGLED, (("region", "wet"),))
    assert by_region == (Verdict.ENTANGLED, (("installer", "a"),))


def test_the_cross_table_counts_each_pump_once_most_faults_first():
    watches, group_of = fleet(("a", "wet", 12, 30), ("b", "dry", 4, 90), ("b", "wet", 4, 5))

    rows = cross_rows(watches, group_of)

    assert [(r.installer, r.region, r.n_found, r.n_observed) for r in rows] == [
        ("a", "wet", 12, 30),
        ("b", "dry", 4, 90),
        ("b", "wet", 4, 5),
    ]


def test_a_pumps_age_band_is_that_of_the_day():
    assert age_band(date(2025, 12, 1), date(2026, 11, 16)) == "under 1 year"
    assert age_band(date(2019, 12, 1), date(2026, 11, 16)) == "3 to 7 years"
    assert age_band(date(2019, 11, 1), date(2026, 11, 16)) == "7 years and older"
    assert age_band(date(2027, 1, 1), date(2026, 11, 16)) is None
    assert age_band(None, date(2026, 11, 16)) is None
