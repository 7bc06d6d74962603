"""Pictures that the parts sheet names."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.exchange.books import Upload, changed, claiming_to_be, png, problems, read, small_xlsx, write


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("../secret.png", "leads out of the workbook's folder"),
        ("/etc/passwd", "leads out of the workbook's folder"),
        ("..\\secret.png", "leads out of the workbook's folder"),
        ("C:secret.png", "leads out of the workbook's folder"),
        ("link.png", "is not beside the sheets"),
        ("cupp.png", "is not beside the sheets"),
        ("text.png", "is not a picture"),
        ("half.png", "is a damaged picture"),
        ("vast.png", "has 6,000 by 6,000 points"),
        ("fat.png", "is larger than 2 MB"),
    ],
)
def test_a_picture_must_be_one_and_lie_beside_the_sheets(tmp_path: Path, name: str, wrong: str) -> None:
    (tmp_path / "secret.png").write_bytes(png())
    folder = write(tmp_path / "book", **changed("parts", "CUP,Cup,made,piece,,", f"CUP,Cup,made,piece,,{name}"))
    (folder / "link.png").symlink_to(tmp_path / "secret.png")
    (folder / "cup.png").write_bytes(png())
    (folder / "text.png").write_text("not a picture")
    (folder / "half.png").write_bytes(png(200, 200)[:100])
    (folder / "vast.png").write_bytes(claiming_to_be(6000, 6000))
    (folder / "fat.png").write_bytes(png() + bytes(3 * 1024 * 1024))
    found = problems(folder)
    assert [(each.sheet, each.row, each.column, each.found, each.wrong) for each in found] == [
        ("parts", 2, "picture", name, wrong)
    ]
    if name == "cupp.png":
        assert found[0].right == "did you mean cup.png?"


def test_a_picture_beside_an_xlsx_on_disk_is_found_in_any_case(tmp_path: Path) -> None:
    parts = [["part", "name", "kind", "unit", "supplier", "picture"], ["CUP", "Cup", "made", "piece", "", "CUP.png"]]
    parts += [["LID", "Lid", "bought", "piece", "mill", ""], ["CLAY", "Clay", "material", "g", "mill", ""]]
    (tmp_path / "book.xlsx").write_bytes(small_xlsx(parts=parts))
    (tmp_path / "cup.png").write_bytes(png())
    assert read(tmp_path / "book.xlsx").pictures == {"CUP.png": png()}


def test_an_upload_name_with_folders_in_it_is_only_a_name(tmp_path: Path) -> None:
    assert len(read(Upload("C:\\Users\\me\\book.xlsx", small_xlsx())).parts) == 3
