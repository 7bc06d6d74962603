"""Style sheets as they are served: fewer bytes, the same rules."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage

from traveller.web.squeezed import SqueezedStaticFilesStorage, squeezed, without_remarks

FILES = Path(__file__).parents[2] / "traveller" / "web" / "static" / "web"
SHEETS, SCRIPTS = sorted(FILES.glob("*.css")), sorted(FILES.glob("*.js"))


def test_comments_and_blanks_go_and_what_stands_in_quotes_stays() -> None:
    sheet = """/* What it is. */
a:hover,
a > b :focus {
  content: "/* no  comment */ ;  {";
  margin: 0  1px; /* why */
  width: calc(1px + 2px);
}
@media (min-width: 1px) {
  p {
    color: red;
  }
}
"""
    assert squeezed(sheet) == (
        'a:hover,a > b :focus{content: "/* no  comment */ ;  {";margin: 0 1px;width: calc(1px + 2px);}'
        "@media (min-width: 1px){p{color: red;}}"
    )


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.name)
def test_squeezing_what_is_squeezed_changes_nothing_and_no_brace_is_lost(sheet: Path) -> None:
    once = squeezed(sheet.read_text("utf-8"))
    assert squeezed(once) == once and "/*" not in once and "\n" not in once
    assert once.count("{") == once.count("}") == sheet.read_text("utf-8").count("{")


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_no_script_has_a_text_over_several_lines_in_which_a_remark_could_be_meant(script: Path) -> None:
    lines = script.read_text("utf-8").splitlines()
    assert all(line.count("`") % 2 == 0 for line in lines)
    # What is taken for a remark at the end of a line stands after all quotes of that line.
    ends = [line.rsplit(" // ", 1)[0] for line in lines if " // " in line and not line.lstrip().startswith("//")]
    assert all(end.count(quote) % 2 == 0 for end in ends for quote in '`"')
    assert without_remarks(without_remarks(script.read_text("utf-8"))) == without_remarks(script.read_text("utf-8"))


def test_what_is_collected_is_squeezed_and_other_files_are_not_touched(tmp_path: Path) -> None:
    storage = SqueezedStaticFilesStorage(location=str(tmp_path), base_url="/static/")
    storage.save("a.css", ContentFile(b"a {\n  color: red;\n}\n"))
    storage.save(
        "a.js",
        ContentFile(b"// Why.\nconst a = 1; // one\n\n  // Because.\n  try { b(`http://a`); } catch { /* no */ }\n"),
    )
    storage.save("a.txt", ContentFile(b"// as it is\n"))
    assert (tmp_path / "a.css").read_text() == "a{color: red;}"
    assert (tmp_path / "a.js").read_text() == "const a = 1;\ntry { b(`http://a`); } catch {}\n"
    assert (tmp_path / "a.txt").read_text() == "// as it is\n"
    source = FileSystemStorage(location=str(tmp_path / "source"))
    source.save("b.css", ContentFile(b"b {\n  color: red;\n}\n"))
    with source.open("b.css") as file:
        storage.save("b.css", file)
    named = [name for _, name, done in storage.post_process({"b.css": (source, "b.css")}) if done and ".css" in name]
    assert {(tmp_path / name).read_text() for name in named if name.endswith(".css")} == {"b{color: red;}"}
