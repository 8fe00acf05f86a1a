"""
RFC 9562 (2024) appendix A.6: the worked example of a UUID version 7.

RFC 8785 (2020) section 3.2.3: the order of members by UTF-16 code units; section 3.2.2.2: escapes.
The examples are written down from memory of both documents.
"""

from __future__ import annotations

from datetime import UTC, datetime

from cubital.custody.canonical import canonical
from cubital.custody.uuid7 import uuid7


def test_the_worked_example_of_rfc_9562() -> None:
    """RFC 9562 appendix A.6: 2022-02-22 19:22:22 UTC, rand_a CC3, rand_b 18C4DC0C0C07398F."""
    moment = datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)
    random = (0xCC3 << 64 | 0x18C4DC0C0C07398F).to_bytes(10, "big")
    assert uuid7(moment, random) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


def test_members_sort_as_rfc_8785_says() -> None:
    """RFC 8785 section 3.2.3: a smiling face (a surrogate pair) sorts before U+FB33."""
    value = {
        "€": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\x80": "Control",
        "ö": "Latin Small Letter O With Diaeresis",
    }
    text = canonical(value).decode()
    order = ["Carriage", "One", "Control", "Latin", "Euro", "Emoji", "Hebrew"]
    assert [text.index(word) for word in order] == sorted(text.index(word) for word in order)


def test_escapes_are_the_shortest() -> None:
    """RFC 8785 section 3.2.2.2: short escapes where JSON has them, lower-case hex elsewhere."""
    value = {"string": '€$\u000f\nA\'B"\\\\"/'}
    assert canonical(value) == b'{"string":"\xe2\x82\xac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
