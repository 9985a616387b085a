"""What the README and the pages of docs/ point to is there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", ROOT / "docs" / "plan.md", ROOT / "docs" / "cluster.md"]
LINK = re.compile(r"\]\(([^)#\s]+)\)|src=\"([^\"]+)\"")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_within_the_project_leads_somewhere(page):
    targets = [first or second for first, second in LINK.findall(page.read_text(encoding="utf-8"))]
    targets = [target for target in targets if not target.startswith(("http:", "https:", "mailto:"))]
    assert targets
    for target in targets:
        assert (page.parent / target).exists(), target


def test_pictures_are_small():
    pictures = list((ROOT / "docs" / "pictures").glob("*.png"))
    assert pictures and all(picture.stat().st_size <= 200_000 for picture in pictures)


def test_the_readme_names_every_exit_code_that_the_command_names():
    from wetfront.cli.grammar import parser

    plan = next(action for action in parser()._actions if action.dest == "command").choices["plan"]
    codes = re.findall(r"(?:^|; )(?:Exit codes: )?(\d+) ", plan.epilog)
    assert codes == ["0", "1", "2", "3", "70", "130"]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.findall(r"^\| (\d+) \|", readme, re.MULTILINE) == codes
