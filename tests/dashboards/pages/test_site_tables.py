from types import SimpleNamespace

from analysis.brief_facts import Fact, NormalValue
from analysis.findings import Kind, Status
from dashboards.pages.site_tables import Cell, pump_tables


def pump(pump_id, *, is_heard=True, **told):
    """What the tables read of a pump's brief."""
    nothing = dict.fromkeys(
        (
            *("nameplate", "settings", "normal", "habits", "quality"),
            *("not_assessed", "clear", "cannot_tell"),
        ),
        (),
    )
    return SimpleNamespace(
        pump=SimpleNamespace(pump_id=pump_id),
        week=object() if is_heard else None,
        **(nothing | told),
    )


def answer(kind):
    return SimpleNamespace(kind=kind, status=Status.NOT_ASSESSED, reason="too slow a log")


def test_facts_of_two_pumps_stand_side_by_side_and_a_blank_stays_blank():
    tables = pump_tables(
        [
            pump("P-01", nameplate=(Fact("Motor volts", "230 V"), Fact("Full-load amps", None))),
            pump(
                "P-02", nameplate=(Fact("Motor volts", "400 V"), Fact("Full-load amps", "4.2 A"))
            ),
        ]
    )

    assert tables.pump_ids == ("P-01", "P-02")
    assert [(row.name, *(cell.text for cell in row.cells)) for row in tables.nameplate] == [
        ("Motor volts", "230 V", "400 V"),
        ("Full-load amps", "", "4.2 A"),
    ]


def test_a_quantity_only_one_pump_has_leaves_the_other_blank():
    tables = pump_tables([pump("P-01"), pump("P-02", nameplate=(Fact("Motor lead", "20 m"),))])

    assert tables.nameplate[0].cells == (Cell(text=""), Cell(text="20 m"))


def test_what_is_usual_is_said_only_where_it_differs():
    normal = (
        NormalValue("Idle volts", "238 V", "238 V"),
        NormalValue("Starts a day", "910", "60"),
        NormalValue("Held pressure", "60 psi", None),
        NormalValue("Restart pressure", None, "50 psi"),
        NormalValue("Speed at no flow", None, None),
    )

    tables = pump_tables([pump("P-01", normal=normal)])

    assert [(row.cells[0].text, row.cells[0].usual) for row in tables.normal] == [
        ("238 V", "as usual"),
        ("910", "usually 60"),
        ("60 psi", "no earlier weeks"),
        ("not logged", "usually 50 psi"),
        ("not logged", ""),
    ]


def test_a_limit_of_all_logs_is_said_once_and_one_of_some_names_its_pump():
    tables = pump_tables(
        [
            pump("P-01", cannot_tell=("No flow meter.", "One phase.")),
            pump("P-02", cannot_tell=("No flow meter.",)),
            pump("P-03", is_heard=False),
        ]
    )

    assert tables.cannot_tell == ("No flow meter.", "P-01: One phase.")


def test_answers_of_all_pumps_are_said_once_and_those_of_one_name_it():
    tables = pump_tables(
        [
            pump("P-01", clear=(Kind.LEAK, Kind.SETTING), not_assessed=(answer(Kind.HUNTING),)),
            pump("P-02", clear=(Kind.LEAK,), not_assessed=(answer(Kind.HUNTING),)),
        ]
    )

    assert tables.clear == ("leak", "at P-01 setting")
    assert tables.unanswered == ("Hunting: not assessed, too slow a log",)


def test_what_a_pumps_past_tells_stands_beside_the_others():
    rhythm = Fact("Known demand", "draws 02:05-03:10 every 4th night: looks like a softener")

    tables = pump_tables([pump("P-01", habits=(rhythm,)), pump("P-02")])

    assert tables.habits[0].cells == (Cell(text=rhythm.value), Cell(text=""))
