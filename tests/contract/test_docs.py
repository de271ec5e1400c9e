"""The pages: what is written by a script is up to date, code runs and prints what it says, links lead somewhere."""

import contextlib
import importlib.util
import io
import re
from pathlib import Path
from typing import NamedTuple

import pytest

import waterbudget as wb
from waterbudget.__main__ import main

ROOT = Path(__file__).parents[2]
PAGES = sorted(ROOT.glob("*.md")) + sorted((ROOT / "docs").glob("*.md"))
WITH_CODE = [page for page in (ROOT / "README.md", ROOT / "docs" / "quick-start.md") if page.exists()]


class Block(NamedTuple):
    """A fenced block of code, and the printed result that stands under it."""

    language: str
    code: str
    result: str | None


def blocks(page):
    """Read the fenced blocks of a page; a ``text`` block that follows at once is what the code prints."""
    fence = r"^```(\w*)\n(.*?)^```$"
    found = list(re.finditer(fence, page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE))
    made = []
    for number, block in enumerate(found):
        after = found[number + 1] if number + 1 < len(found) else None
        between = block.string[block.end() : after.start()].strip() if after else "none"
        result = after[2] if after and after[1] == "text" and not between else None
        made.append(Block(block[1], block[2], result))
    return made


def lines(text):
    return [line.rstrip() for line in text.strip("\n").splitlines()]


@pytest.fixture
def copy_of_the_project(tmp_path, monkeypatch):
    """Run where the demo farm is at hand and results do no harm, without a screen."""
    (tmp_path / "data_demo").symlink_to(ROOT / "data_demo")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MPLBACKEND", "Agg")
    return tmp_path


def test_glossary_is_what_its_script_writes():
    script = ROOT / "docs" / "write_glossary.py"
    spec = importlib.util.spec_from_file_location("write_glossary", script)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.PAGE.read_text(encoding="utf-8") == module.page(), "run: python docs/write_glossary.py"


@pytest.mark.parametrize("room", [wb.weather, wb.system, wb.soil, wb.report], ids=lambda room: room.__name__)
def test_every_public_name_is_listed_with_what_it_answers(room):
    text = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    _, _, section = text.partition(f"### `{room.__name__}`\n")
    listed = re.findall(
        r"^\| `(\w+)` \| (.+) \|$", section.partition("\n## ")[0].partition("\n### ")[0], re.MULTILINE
    )
    assert [name for name, _ in listed] == room.__all__
    assert all(len(answer) > 10 for _, answer in listed)


@pytest.mark.parametrize("page", WITH_CODE, ids=lambda page: page.name)
@pytest.mark.usefixtures("copy_of_the_project")
def test_python_runs_and_prints_what_stands_under_it(page):
    names = {"__name__": "__main__"}
    python = [block for block in blocks(page) if block.language == "python"]
    assert python
    for block in python:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(block.code, str(page), "exec"), names)
        if block.result is not None:
            assert lines(printed.getvalue()) == lines(block.result), block.code


def commands(page):
    """Read the commands of a page, without `python -m waterbudget`."""
    shell = "\n".join(block.code for block in blocks(page) if block.language in ("sh", "bash", "console"))
    return re.findall(r"^(?:\$ )?python -m waterbudget (.+)$", shell, re.MULTILINE)


@pytest.mark.parametrize("page", WITH_CODE, ids=lambda page: page.name)
def test_a_page_with_code_has_commands(page):
    assert commands(page)


@pytest.mark.parametrize("command", sorted({command for page in WITH_CODE for command in commands(page)}))
@pytest.mark.usefixtures("copy_of_the_project")
def test_commands_run(command, capsys):
    """Each once, however many pages show it."""
    assert main(command.split()) == 0
    assert capsys.readouterr().out


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_relative_links_resolve(page):
    text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if "://" in target:
            continue
        path, _, anchor = target.partition("#")
        where = page.parent / path if path else page
        assert where.exists(), target
        if anchor:
            headings = re.findall(r"^#+ (.+)$", where.read_text(encoding="utf-8"), re.MULTILINE)
            assert anchor in {re.sub(r"[^\w\- ]", "", name.lower()).replace(" ", "-") for name in headings}
