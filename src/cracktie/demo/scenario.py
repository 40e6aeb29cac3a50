"""Which everyday faults each log of the demo carries."""

from __future__ import annotations

from cracktie.plan.logfile import Faults

_CABINET = {"decimal_comma": True, "latin1": True, "unit_row": False}

FAULTS: dict[str, Faults] = {
    "OV-01": Faults(),
    "OV-02": Faults(spike=True, unit_row=False),
    "OV-03": Faults(**_CABINET),
    "OV-04": Faults(lost_gauge=True),
    "OV-05": Faults(missing_words=True),
    "OV-06": Faults(lost_gauge=True, spike=True),
    "OV-07": Faults(**_CABINET, spike=True),
    "OV-08": Faults(**_CABINET),
    "OV-09": Faults(unit_row=False),
    "OV-10-pre": Faults(),
    "OV-10": Faults(missing_words=True, lost_gauge=True),
    "OV-11": Faults(),
    "OV-12-A": Faults(spike=True),
    "OV-12-B": Faults(**_CABINET, lost_gauge=True),
}
"""By test id. `OV-03`, `OV-07` and the second logs of `OV-08` and `OV-12-B` come from the old cabinet logger (decimal
comma, semicolon, Latin-1, units in brackets), the others from the hall logger."""
