from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ingest.columns import REGISTER_FILES
from ingest.errors import RegisterError
from ingest.register import load_register

SITES = "site_id,site_name,timezone,region,installer,customer,units\n"
PUMPS_HEADER = "pump_id,site_id,motor_hp,motor_kw,service_factor_amps,pressure_setting_psi"


@pytest.fixture
def write_register(tmp_path: Path) -> Callable[..., Path]:
    def write(**files: str) -> Path:
        content = {
            "sites": SITES + "S-1,North barn,America/Chicago,north,,,us\n",
            "pumps": f"{PUMPS_HEADER}\nP-1,S-1,5,,7.5,60\n",
            **files,
        }
        for name, text in content.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        return tmp_path

    return write


def texts(folder: Path) -> list[str]:
    return [str(problem) for problem in load_register(folder)[1]]


def test_a_clean_register_has_no_problem(write_register):
    register, problems = load_register(write_register())

    assert problems == []
    assert register.sites["S-1"].timezone == "America/Chicago"
    assert register.sites["S-1"].installer is None
    assert register.pumps["P-1"].motor_kw == pytest.approx(5 * 0.7457, rel=1e-4)
    assert register.pumps["P-1"].pressure_setting_kpa == pytest.approx(413.685, abs=1e-3)
    assert register.pumps["P-1"].max_hz == 60


def test_every_register_column_can_be_given(write_register):
    header = (
        "pump_id,site_id,pump_model,motor_model,controller_model,motor_kw,motor_volts,rated_amps,"
        "service_factor_amps,overload_setting_amps,supply_volts,supply_phases,motor_phases,max_hz,"
        "min_hz,ramp,pressure_setting_bar,suction,suction_kpa,tank_gal,precharge_bar,"
        "supply_wire_awg,supply_wire_ft,motor_lead_m,output_filter,installed_on"
    )
    row = (
        "P-1,S-1,PM,MM,CM,3.7,230,14,16,16.1,230,1,3,58,32,Slow,4,well,-20,20,2.8,12,100,40,yes,"
        "2024-02-29"
    )

    pump = load_register(write_register(pumps=f"{header}\n{row}\n"))[0].pumps["P-1"]

    assert pump.pressure_setting_kpa == 400
    assert pump.suction_kpa == -20
    assert pump.tank_l == pytest.approx(75.708, abs=1e-3)
    assert pump.precharge_kpa == pytest.approx(280)
    assert pump.supply_wire_mm2 == pytest.approx(3.309, abs=1e-3)
    assert pump.supply_wire_m == pytest.approx(30.48)
    assert (pump.ramp, pump.output_filter) == ("slow", True)
    assert (pump.supply_phases, pump.motor_phases) == (1, 3)
    assert pump.installed_on == date(2024, 2, 29)


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (
            "P-2,S-1,5hp,,7.5,60",
            "pumps.csv line 3: motor_hp is '5hp', expected a number such as 5 or 7.5, without its "
            "unit. The cell is left blank.",
        ),
        (
            "P-2,S-1,5,3.7,7.5,60",
            "pumps.csv line 3: gives both motor_hp and motor_kw, expected only one of them. Both "
            "are left blank.",
        ),
        (
            'P-2,S-1,5,,"7,5",60',
            "pumps.csv line 3: service_factor_amps is '7,5', expected a number such as 5 or 7.5, "
            "without its unit. The cell is left blank.",
        ),
        (
            "P-2,S-1,5,,nan,60",
            "pumps.csv line 3: service_factor_amps is 'nan', expected a number such as 5 or 7.5, "
            "without its unit. The cell is left blank.",
        ),
        (
            "P-2,S-1,5,,7.5,6000",
            "pumps.csv line 3: pressure_setting_psi is '6000', expected 1.45 to 580.2 psi. The "
            "cell is left blank.",
        ),
    ],
)
def test_a_bad_cell_that_is_not_needed_is_left_blank_and_told(write_register, cells, told):
    folder = write_register(pumps=f"{PUMPS_HEADER}\nP-1,S-1,5,,7.5,60\n{cells}\n")

    register, problems = load_register(folder)

    assert [str(problem) for problem in problems] == [told]
    assert set(register.pumps) == {"P-1", "P-2"}


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ("P-1,S-1,3,,4,50", "pump_id is 'P-1' again, expected it once; it stands on line 2. This"),
        ("P-2,S-9,5,,7.5,60", "site_id is 'S-9', expected a usable site of sites.csv. Pump P-2"),
        (",S-1,5,,7.5,60", "pump_id is blank, but it is needed. Pump left out."),
        ("P-2,,5,,7.5,60", "site_id is blank, but it is needed. Pump P-2 left out."),
        ("P-2,S-1,5,,7.5", "has 5 cells, expected 6 as in the header. Pump P-2 left out."),
        ("P-2,S-1,5,,7.5,60,1", "has 7 cells, expected 6 as in the header. Pump P-2 left out."),
    ],
)
def test_a_row_that_cannot_be_used_costs_itself_only(write_register, cells, told):
    folder = write_register(
        pumps=f"{PUMPS_HEADER}\nP-1,S-1,5,,7.5,60\n{cells}\nP-3,S-1,5,,7.5,60\n"
    )

    register, problems = load_register(folder)

    assert len(problems) == 1
    assert str(problems[0]).startswith(f"pumps.csv line 3: {told}")
    assert set(register.pumps) == {"P-1", "P-3"}
    assert register.pumps["P-1"].service_factor_amps == 7.5


def test_problems_of_all_files_are_listed_at_once(write_register):
    folder = write_register(
        sites=SITES + "S-1,,Mars/Base,,,,us\nS-2,,UTC,,,,metric\n",
        pumps="pump_id,site_id,ramp,output_filter,colour\nP-1,S-1,,,\nP-2,S-2,quick,maybe,red\n",
        curves="pump_model,flow_gpm,head_ft\nM,ten,100\n",
        fault_codes="controller_model,fault_code,meaning\nC,7,low water\nC,7,dry\n",
        visits="visited_on,site_id,pump_id,outcome\n2026-13-01,S-2,,fixed\n"
        "16.11.2026,S-2,,fixed\n2026-11-16,S-2,P-9,fixed\n2026-11-16,S-2,P-2,done\n",
    )

    told = texts(folder)

    assert [line.partition(": ")[0] for line in told] == [
        "sites.csv line 2",
        "sites.csv line 3",
        "pumps.csv line 1",
        "pumps.csv line 2",
        "pumps.csv line 3",
        "pumps.csv line 3",
        "curves.csv line 2",
        "fault_codes.csv line 3",
        "visits.csv line 2",
        "visits.csv line 3",
        "visits.csv line 4",
        "visits.csv line 5",
    ]
    assert "Site S-1 left out" in told[0]
    assert "us or si. The cell is left blank (us is used)" in told[1]
    assert "column 'colour' that is not known" in told[2]
    assert "Pump P-1 left out" in told[3]


def test_speed_limits_that_contradict_each_other_are_left_blank(write_register):
    folder = write_register(pumps="pump_id,site_id,min_hz,max_hz\nP-1,S-1,60,50\n")

    register, problems = load_register(folder)

    assert "min_hz is 60 and max_hz 50, expected min below max" in str(problems[0])
    assert (register.pumps["P-1"].min_hz, register.pumps["P-1"].max_hz) == (30, 60)


def test_a_byte_order_mark_quotes_and_blank_lines_are_no_problem(write_register):
    folder = write_register(
        sites='\ufeff"site_id","site_name"\n\n"S-1","Barn, north"\n',
    )

    register, problems = load_register(folder)

    assert problems == []
    assert register.sites["S-1"].site_name == "Barn, north"


def test_the_line_of_a_problem_counts_line_breaks_in_quotes(write_register):
    folder = write_register(
        sites='site_id,site_name,units\nS-1,"Barn,\nnorth",us\nS-2,Mill,metric\n'
    )

    assert texts(folder)[0].startswith("sites.csv line 4: units is 'metric'")


def test_curves_fault_codes_and_visits_are_read(write_register):
    folder = write_register(
        curves="pump_model,flow_gpm,head_ft,efficiency_pct,shaft_hp\nM,20,80,60,1\nM,0,100,0,\n",
        fault_codes="controller_model,fault_code,meaning\nC,E7,low water\n",
        visits="visited_on,site_id,pump_id,kind,outcome,found,done\n"
        "2026-11-02,S-1,P-1,leak,fixed,worn seat,new valve\n2026-10-01,S-1,,,,,\n",
    )

    register = load_register(folder)[0]

    assert [point.flow_lpm for point in register.curves] == pytest.approx([0, 75.708], abs=1e-3)
    assert register.curves[1].head_m == pytest.approx(24.384)
    assert register.fault_codes[0].meaning == "low water"
    assert [visit.visited_on for visit in register.visits] == [
        date(2026, 10, 1),
        date(2026, 11, 2),
    ]
    assert register.visits[1].pump_id == "P-1"


def test_bytes_that_are_not_utf8_are_told_by_line(write_register):
    folder = write_register()
    (folder / "sites.csv").write_bytes(b"site_id,site_name\nS-1,M\xfchle\n")

    assert texts(folder)[0].startswith("sites.csv line 2: has bytes that are not UTF-8")


def test_a_missing_folder_is_an_error(tmp_path):
    with pytest.raises(RegisterError, match="no such folder"):
        load_register(tmp_path / "nowhere")


@pytest.mark.parametrize("name", ["sites.csv", "pumps.csv"])
def test_a_missing_key_file_is_an_error(write_register, name):
    folder = write_register()
    (folder / name).unlink()

    with pytest.raises(RegisterError, match=f"has no {name}"):
        load_register(folder)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is empty, expected a header row"),
        ("site;site_name\nS-1;x\n", "has no column site_id, which is needed. The header is not"),
        ("name,zone\nS-1,UTC\n", "has no column site_id, which is needed"),
    ],
)
def test_a_key_file_without_its_key_is_an_error(write_register, text, told):
    with pytest.raises(RegisterError, match=told):
        load_register(write_register(sites=text))


def test_an_optional_file_that_cannot_be_used_costs_nothing_else(write_register):
    register, problems = load_register(write_register(curves="model,flow\nM,3\n"))

    assert register.curves == ()
    assert "has no column pump_model" in str(problems[-3])
    assert set(register.pumps) == {"P-1"}


def test_each_column_has_a_meaning_and_one_name_a_file():
    for columns in REGISTER_FILES.values():
        names = [name for column in columns for name in column.names]

        assert all(column.meaning for column in columns)
        assert len(names) == len(set(names))


def test_a_tariff_is_read_per_kwh_and_per_1000_gallons_or_cubic_metre(write_register):
    folder = write_register(
        sites="site_id,energy_price_per_kwh,water_price_per_kgal,water_price_per_m3,currency\n"
        "S-1,0.16,7.50,,USD\nS-2,,,2.1,\n"
    )

    register, problems = load_register(folder)

    assert problems == []
    us, si = register.sites["S-1"], register.sites["S-2"]
    assert (us.energy_price_per_kwh, us.currency) == (0.16, "USD")
    assert us.water_price_per_m3 == pytest.approx(7.50 / 3.785411784)  # 1000 gal are 3.785 m3
    assert (si.energy_price_per_kwh, si.water_price_per_m3, si.currency) == (None, 2.1, None)
