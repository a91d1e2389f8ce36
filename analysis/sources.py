"""Published sources that limits, formulas and tests rest on, with how each was checked.

A paid standard was not bought for this: what is quoted from it was read where others quote it,
or is from memory, and says which. Check the edition in force before quoting a figure as a
requirement. A ``limit_source`` is compared with, never "violated".
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Source:
    """One published source.

    Attributes
    ----------
    source_id : str
        Short name, as it stands in a ``limit_source``.
    name : str
        What it is.
    gives : str
        What is taken from it.
    checked : str
        "read at ..." (a figure seen there), "memory", or "common practice".
    """

    source_id: str
    name: str
    gives: str
    checked: str


SOURCES: tuple[Source, ...] = (
    Source(
        source_id="ANSI C84.1",
        name="ANSI C84.1, Electric power systems and equipment: voltage ratings (60 Hz)",
        gives="service voltage Range A (95-105 %) and Range B (91.7-105.8 %); 3 % unbalance",
        checked="read at public power-system code and tool documentation; utilization voltages "
        "from memory",
    ),
    Source(
        source_id="ASTM B258",
        name="ASTM B258, diameters of round solid wire by American wire gauge",
        gives="section of a gauge number",
        checked="read at an open-source data note that names it; the formula from memory",
    ),
    Source(
        source_id="EI 11C201",
        name="US Army EI 11C201 (1997), Wastewater collection and pumping, Table 7-1",
        gives="least cycle time by motor size: 10 to 15 min under 15 kW",
        checked="read at government criteria pages",
    ),
    Source(
        source_id="EN 50160",
        name="EN 50160, Voltage characteristics of electricity supplied by public networks",
        gives="ten-minute means of a week: 95 % within +/-10 %, all within +10/-15 %",
        checked="read at a metering technical note",
    ),
    Source(
        source_id="EPA WaterSense",
        name="EPA WaterSense, Fix a Leak (2012)",
        gives="what household leaks amount to",
        checked="read at the agency's and utilities' pages",
    ),
    Source(
        source_id="FAVAD",
        name="J. May, Pressure dependent leakage (1994); A. Lambert on FAVAD",
        gives="leak against pressure, exponent 0.5 to 1.5",
        checked="read at leakage-practice pages",
    ),
    Source(
        source_id="Garwood 1936",
        name="F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28",
        gives="exact limits of a count",
        checked="read at two statistics pages that print worked values",
    ),
    Source(
        source_id="gas law",
        name='Boyle\'s law; "How to Calculate and Control Pressure Tank Drawdown", The Driller, '
        "Feb. 2006",
        gives="drawdown of a pre-charged tank with a worked example",
        checked="read at the trade magazine's article; recomputed",
    ),
    Source(
        source_id="Huber 1981",
        name="P. J. Huber, Robust Statistics",
        gives="weights that keep outlying residuals from leading a fit (1.345)",
        checked="memory",
    ),
    Source(
        source_id="IEC 60028",
        name="IEC 60028, International standard of resistance for copper (NBS Handbook 100)",
        gives="1/58 ohm mm2/m at 20 C, 0.00393 /K",
        checked="read at an open-source data note that cites NBS Handbook 100; recomputed",
    ),
    Source(
        source_id="IEC 60255-149",
        name="IEC 60255-149 (before it 60255-8), functional requirements for thermal relays",
        gives="thermal replica: state and trip time, cold and hot",
        checked="read at open code notes and lecture notes; values derived",
    ),
    Source(
        source_id="IEC 60947-4-1",
        name="IEC 60947-4-1, contactors and motor starters, Table 2",
        gives="trip classes at 7.2 times the setting",
        checked="read at a control-gear reference page",
    ),
    Source(
        source_id="IEEE 1159",
        name="IEEE 1159, Monitoring electric power quality",
        gives="names of sags, swells and interruptions by depth and duration",
        checked="read at an engineering magazine's table and an analyser manual; some rows from "
        "memory",
    ),
    Source(
        source_id="IWA night flow",
        name="IWA water-loss practice, minimum night flow",
        gives="02:00 to 04:00 as the hours of least use",
        checked="read at a book page and a 2024 journal paper",
    ),
    Source(
        source_id="MIL-HDBK-1005/9A",
        name="MIL-HDBK-1005/9A, Industrial and oily wastewater control",
        gives="cycle time of a pump on a tank; at least 6 min a cycle below 50 hp",
        checked="read at government criteria pages",
    ),
    Source(
        source_id="NBSIR 76-1011",
        name="NBSIR 76-1011 (1976), Exploratory study of glowing electrical connections",
        gives="a loose joint that glows makes up to 5 W at 0.8 A and up to 35 W at 15 A",
        checked="read at the abstract in the agency's fire library",
    ),
    Source(
        source_id="NEC 210.19",
        name="NFPA 70 (NEC), informational note to 210.19",
        gives="advice of 3 % drop in a branch circuit; not a rule",
        checked="read at reference pages",
    ),
    Source(
        source_id="NEC 215.2",
        name="NFPA 70 (NEC), informational note to 215.2",
        gives="advice of 5 % drop in feeder and branch circuit together; not a rule",
        checked="read at reference pages",
    ),
    Source(
        source_id="NEC 430.32",
        name="NFPA 70 (NEC), 430.32",
        gives="motor overload at most 125 % or 115 % of nameplate current",
        checked="read at study notes and calculator documentation",
    ),
    Source(
        source_id="NEC Chapter 9 Table 8",
        name="NFPA 70 (NEC), Chapter 9, Table 8",
        gives="direct-current resistance of copper conductors at 75 C",
        checked="read at two table pages",
    ),
    Source(
        source_id="NEMA MG 1",
        name="NEMA MG 1, Motors and generators: 12.44, 12.45, 12.51, 14.36",
        gives="+/-10 % of rated volts; meaning of service factor; voltage unbalance",
        checked="read at engineering papers and pages; service factors from memory",
    ),
    Source(
        source_id="NEMA MG 10",
        name="NEMA MG 10, Energy management guide, Table 2-3",
        gives="starts an hour and rest of Design A and B motors at full voltage",
        checked="read at a motor-repair trade association's page and a second copy that agrees",
    ),
    Source(
        source_id="Newcombe 1998",
        name="R. G. Newcombe, Two-sided confidence intervals for the single proportion, "
        "Statistics in Medicine 17",
        gives="Wilson's interval of a share, with worked values (Table I, method 3)",
        checked="read at public test-suites that quote it; recomputed",
    ),
    Source(
        source_id="Sen 1968",
        name="P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, JASA 63",
        gives="slope as the median of pairwise slopes, with limits",
        checked="read at a scientific library's test-suite",
    ),
    Source(
        source_id="submersible motor literature",
        name="Application literature of submersible motors, generic",
        gives="least speed for the thrust bearing's film; lead length and volts for a filter",
        checked="read at excerpts of an application manual and a drive guideline, not in whole",
    ),
    Source(
        source_id="submersible motor starts tables",
        name="Generic trade table: starts per day of submersible well-pump motors",
        gives="50 to 300 starts in 24 h by power and phases; run at least a minute",
        checked="read at a trade page; a water-well trade journal agrees in part",
    ),
    Source(
        source_id="Torricelli",
        name="Torricelli's law with a discharge coefficient, any hydraulics text-book",
        gives="flow through a hole",
        checked="text-book; agrees with two utilities' leak tables within 1 %",
    ),
    Source(
        source_id="well-tank standard text",
        name="Well-tank standard, edition not stated",
        gives="under 300 starts in 24 h; at most 15 an hour to 3/4 hp, 7.5 an hour above",
        checked="read at a page that quotes it",
    ),
    Source(
        source_id="common practice",
        name="Trade practice with no published source",
        gives="settings, cautions and the power factors assumed for drives",
        checked="common practice",
    ),
)
"""By name, common practice last."""
