"""Documents on FRP in shear that are known to exist and deliberately give no model here, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass

_OWN_MODEL = (
    "write models/NAME.py in the campaign folder with @model('local.NAME', predicts='V_f', unit='N', ...) from the "
    "document in your hands; it then takes part in predict, compare and calibrate"
)


@dataclass(frozen=True)
class NotIncluded:
    """A document without a model: what keeps it out and how to bring one's own."""

    document: str
    reason: str
    plug_in: str = _OWN_MODEL


NOT_INCLUDED: tuple[NotIncluded, ...] = (
    NotIncluded("fib Bulletin 90 (2019)", "the text was not available to the authors and no coefficient is certain"),
    NotIncluded("EN 1992-1-1:2023, Annex J", "the text was not available to the authors and no coefficient is certain"),
    NotIncluded(
        "ACI PRC-440.2-23",
        "whether chapter 11 changed against 440.2R-17, and what it says of anchors, is not known to the authors; "
        "frp_shear.aci440_2017 makes no claim of conformity with it",
    ),
    NotIncluded(
        "CSA S806-12",
        "the strain limits and their fractions are recalled with low confidence only; "
        "frp_shear.csa_s806_2002 is the 2002 edition",
    ),
    NotIncluded(
        "EN 1998-3:2005, Annex A",
        "the formula is recalled with the square of w_f/s_f, which the truss contradicts: not shipped unread",
    ),
    NotIncluded(
        "Carolin and Taljsten (2005)",
        "the projection of the strain is not certain, and the model needs a bond strain it does not give",
    ),
    NotIncluded(
        "Bousselham and Chaallal (2004 to 2008)",
        "reviews and tests of the interaction with stirrups; no closed set of coefficients is recalled with certainty",
    ),
    NotIncluded(
        "CNR-DT 200 (2004), side bonding", "the form of the first edition is recalled with medium confidence only"
    ),
    NotIncluded(
        "ISIS Canada Design Manual 4",
        "recalled with medium confidence; its bond law is that of ACI 440.2R (0.8/9525 = 1/11 906)",
    ),
    NotIncluded(
        "GB 50608-2010 and GB 50367-2013", "the tables by anchorage type are recalled with low to medium confidence"
    ),
)
