"""Ids and titles of the guideline sets: the one place where they are listed, free of heavy imports."""

from __future__ import annotations

from collections.abc import Mapping

SET_TITLES: Mapping[str, str] = {
    "aci14_440": "ACI 318-14 with ACI 440.2R-17",
    "aci19_440": "ACI 318-19 with ACI 440.2R-17",
    "aci25_440": "ACI 318-25 with ACI 440.2R-17",
    "ec2_04": "EN 1992-1-1:2004",
    "ec2_23": "EN 1992-1-1:2023",
    "mc2010": "fib Model Code 2010",
    "csa": "CSA A23.3-04",
    "aashto": "AASHTO LRFD (2020)",
    "jsce": "JSCE 2007",
    "fib14": "ENV 1992-1-1:1991 with fib Bulletin 14",
    "cnr13": "EN 1992-1-1:2004 with CNR-DT 200 R1/2013",
    "tr55_12": "Technical Report 55, third edition (2012)",
    "csa_s6": "CAN/CSA-S6-06",
    "jsce01": "JSCE 2007 with JSCE 2001 sheets",
    "aashto_nchrp": "AASHTO LRFD (2020) with NCHRP Report 678",
    "chen_teng": "Chen & Teng (2003)",
    "khalifa": "Khalifa and others (1998)",
    "khalifa_nanni": "Khalifa & Nanni (2000)",
    "mofidi": "Mofidi & Chaallal (2011)",
    "pellegrino_modena": "Pellegrino & Modena (2002)",
}
"""Id -> title, in the order tables show them; research models last."""
