"""What normal values do, for all that states an interval."""

from typing import Final

NORMAL_95: Final = 1.96
"""Standard deviations to either side that hold 95 % of normal values."""
