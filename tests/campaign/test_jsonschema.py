from __future__ import annotations

import pytest

from cracktie.campaign.jsonschema import ONE_BEAM, schemas
from cracktie.campaign.new import BEAM, HEAD
from cracktie.campaign.positions import parse_text
from cracktie.campaign.schema import FILES

from .beams import MATERIALS, SPECIMENS
from .test_layout import RIG as LAYOUT
from .test_read import RIG

validator = pytest.importorskip("jsonschema").Draft202012Validator
GOOD = {
    "campaign.yaml": HEAD,
    "materials.yaml": MATERIALS,
    "specimens.yaml": SPECIMENS + "  X: {like: S1, spans: {A: {anchors: none, wrap: {top_edge: none}}}}\n",
    "rig.yaml": RIG + LAYOUT,
    "tests.yaml": "tests: {T1: {specimen: S1, mirrored: true, logs: [logs/a.csv], spans_at_risk: 1}}\n",
    "observations.yaml": "specimens: {S1: {failure_modes: [{mode: dowel pull-out, load: 120 kN, strip: 2}]}}\n",
    "reduction.yaml": "tests: {T1: {excluded: [{channel: g1, reason: wire broke, after: 20 s}]}}\n",
    ONE_BEAM: BEAM,
}
BAD = {
    "campaign.yaml": "guideline_sets: [nonsense]\n",
    "materials.yaml": MATERIALS.replace("convention: fibre", "convention: film"),
    "specimens.yaml": SPECIMENS.replace("width:", "widht:"),
    "rig.yaml": RIG.replace("loads:", "load:"),
    "tests.yaml": "tests: {T1: {specimen: S1, outcome: collapse}}\n",
    "observations.yaml": "specimens: {S1: {failure_modes: [{mode: bang}]}}\n",
    "reduction.yaml": "tests: {T1: {excluded: [{channel: g1}]}}\n",
    ONE_BEAM: BEAM.replace("specimen:", "beam:"),
}


def loaded(text: str):
    """The content as an editor sees it: converted by YAML's own rules."""
    from ruamel.yaml import YAML

    return YAML(typ="safe", pure=True).load(text)


def typed(name: str, text: str):
    root, problems = parse_text(text, name)
    assert not problems
    assert root is not None
    content = loaded(text)
    return _plain(content)


def _plain(value):
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_plain(v) for v in value]
    return value if isinstance(value, (str, int, float, bool, type(None))) else str(value)


def test_there_is_a_schema_for_every_file():
    assert set(schemas()) == {*FILES, "specimens.yaml", ONE_BEAM}
    for schema in schemas().values():
        validator.check_schema(schema)


@pytest.mark.parametrize("name", GOOD)
def test_good_files_pass(name):
    assert [e.message for e in validator(schemas()[name]).iter_errors(typed(name, GOOD[name]))] == []


@pytest.mark.parametrize("name", BAD)
def test_slips_are_found(name):
    assert not validator(schemas()[name]).is_valid(typed(name, BAD[name]))
