"""`cubital labels`."""

from collections.abc import Callable
from pathlib import Path

import pypdfium2
import zxingcpp
from click.testing import Result

from cubital.accession import is_sound
from tests.cli.conftest import NOW

Cubital = Callable[..., Result]


def codes(path: Path) -> list[str]:
    """What an independent reader finds on each page."""
    found = []
    with pypdfium2.PdfDocument(path) as document:
        for page in document:
            image = page.render(scale=6).to_pil()
            found.append(sorted({code.text for code in zxingcpp.read_barcodes(image)}))
    return [text for page in found for text in page]


def test_every_container_gets_a_label_that_a_reader_reads(
    cubital: Cubital, requisition: Path, tmp_path: Path
):
    """Numbers of the site and day, from the serial on, in order."""
    out = tmp_path / "labels.pdf"
    done = cubital(
        "labels", requisition, "--site", "OL", "--serial", "41", "--out", out, "--now", NOW
    )
    assert done.exit_code == 0, done.stderr
    assert f"in {out}" in done.stdout
    numbers = codes(out)
    assert numbers
    assert all(is_sound(number) for number in numbers)
    assert [number[:12] for number in numbers] == [
        f"OL260302{serial:04d}" for serial in range(41, 41 + len(numbers))
    ]


def test_bad_wishes_are_refused_and_nothing_is_written(
    cubital: Cubital, requisition: Path, tmp_path: Path
):
    """Paper, site, and a patient with too few identifiers."""
    out = tmp_path / "labels.pdf"
    paper = cubital("labels", requisition, "--site", "OL", "--size", "50x52", "--out", out)
    assert paper.exit_code == 2
    assert "--size: no label size is called “50x52”. Write 50x25." in paper.stderr
    site = cubital("labels", requisition, "--site", "OST", "--out", out, "--now", NOW)
    assert site.exit_code == 2
    bare = tmp_path / "bare.json"
    bare.write_text(
        '{"number": "R-1", "patient": {"family_name": "Sorrel"}, "tests": ["potassium"]}', "utf-8"
    )
    few = cubital("labels", bare, "--site", "OL", "--out", out, "--now", NOW)
    assert few.exit_code == 2
    assert "identifiers" in few.stderr
    assert not out.exists()
