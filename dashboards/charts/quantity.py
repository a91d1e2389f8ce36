"""The quantities charts show: title, unit and number format in a site's units."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.wording import ShownUnit, shown_unit


@dataclass(frozen=True)
class Quantity:
    """A quantity on an axis: its name, shown unit and decimals on hover."""

    name: str
    unit: ShownUnit
    decimals: int

    @property
    def title(self) -> str:
        """Axis title, "Pressure (psi)"."""
        return f"{self.name} ({self.unit.label})"

    @property
    def hover(self) -> str:
        """Hover text of a value on the y axis."""
        return f"%{{y:.{self.decimals}f}} {self.unit.label}"

    def of(self, inner: float) -> float:
        """Convert a value from its inner unit."""
        return self.unit.of(inner)

    def of_array(self, inner: NDArray[np.float32]) -> NDArray[np.float32]:
        """Convert an array from its inner unit."""
        shown: NDArray[np.float32] = inner / np.float32(self.unit.per_shown) + np.float32(
            self.unit.offset
        )
        return shown

    def text(self, inner: float, decimals: int | None = None) -> str:
        """Value with its unit, as a chart's label shows it."""
        places = self.decimals if decimals is None else decimals
        return f"{self.unit.of(inner):.{places}f} {self.unit.label}"


FREQUENCY = Quantity("Speed", ShownUnit("Hz"), 1)
CURRENT = Quantity("Motor current", ShownUnit("A"), 1)
SUPPLY_CURRENT = Quantity("Supply current", ShownUnit("A"), 1)
VOLTAGE = Quantity("Supply voltage", ShownUnit("V"), 1)


def pressure(units: str) -> Quantity:
    """Gauge pressure in the site's unit."""
    return Quantity("Pressure", shown_unit("pressure", units), 1)


def temperature(units: str) -> Quantity:
    """Temperature of the controller in the site's unit."""
    return Quantity("Controller temperature", shown_unit("temperature", units), 0)


def flow(units: str) -> Quantity:
    """Flow in the site's unit."""
    return Quantity("Flow", shown_unit("flow", units), 2)
