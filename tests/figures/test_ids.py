"""Ids inside pictures: the same data give the same text, whatever the last bit of a solved layout was."""

from __future__ import annotations

import re

from cracktie.figures.style import canvas, numbered_ids, svg_text


def picture(end: float = 1.0) -> str:
    with canvas(80, 50) as (figure, axes):
        axes.plot([0.0, 0.5, end], [1.0, 5.0, 2.0], "o-")
        axes.fill_between([0.0, end], [1.0, 2.0], [2.0, 3.0], hatch="//")
        axes.scatter([0.2, 0.4], [2.0, 3.0], s=[4.0, 9.0])
        return svg_text(figure)


def test_every_reference_finds_its_id_and_no_hash_is_left() -> None:
    text = picture()
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'(?:url\(|href=")#([^")]+)', text)) <= set(ids)
    assert "url(#p" in text
    assert not re.search(r"[0-9a-f]{10}", "".join(ids))


def test_a_hash_of_another_last_bit_gives_the_same_text() -> None:
    one = '<clipPath id="p23460e784a"/><g clip-path="url(#p23460e784a)" fill="#2346ab"/><path id="m00112233aa"/>'
    other = one.replace("p23460e784a", "p3e35b9e1b2")
    assert numbered_ids(one) == numbered_ids(other)
    assert numbered_ids(one) == '<clipPath id="p1"/><g clip-path="url(#p1)" fill="#2346ab"/><path id="m2"/>'
    assert picture() == picture(1.0 + 2e-16)
