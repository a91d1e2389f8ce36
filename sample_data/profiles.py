"""Log profiles for the two sites whose logs have layouts of their own."""

from pathlib import Path

LOGBOOK = "logbook_"
TAGS_PREFIX = "tags_"

DECIMAL_COMMA = f"""\
# Semicolons between fields, decimal commas, day before month, own headings.
files = "{LOGBOOK}*.csv"
delimiter = ";"
decimal = ","

[time]
column = "When"
format = "%d.%m.%Y %H:%M:%S"

[pump]
file_name = "^{LOGBOOK}(?P<pump_id>[^_]+)_"

[values.pressure]
column = "Pressure out [bar]"
unit = "bar"

[values.frequency]
column = "Speed [Hz]"

[values.current]
column = "Motor [A]"

[values.voltage]
column = "Mains [V]"

[values.flow]
column = "Flow [l/min]"
"""

TAG_VALUE = f"""\
# One row per instant and tag.
files = "{TAGS_PREFIX}*.csv"

[time]
column = "epoch"
format = "unix_s"

[pump]
column = "station"

[long]
tag_column = "tag"
value_column = "value"

[values.pressure]
tag = "P_OUT"
unit = "kpa"

[values.frequency]
tag = "N_DRIVE"

[values.current]
tag = "I_MOTOR"

[values.voltage]
tag = "U_MAINS"
"""


def write_profiles(folder: Path) -> None:
    """Write the log profiles that the invented fleet's odd files need."""
    (folder / "decimal_comma.toml").write_text(DECIMAL_COMMA, encoding="utf-8")
    (folder / "tag_value.toml").write_text(TAG_VALUE, encoding="utf-8")
