"""The field app's types and limits are those of the nouns: nothing about a board or an entry is written twice."""

import importlib.util
from importlib.machinery import SourceFileLoader
from pathlib import Path

from wetfront.forecast import HOSE

ROOT = Path(__file__).parent.parent


def test_the_apps_contract_is_what_the_nouns_say_today():
    loader = SourceFileLoader("app_contract", str(ROOT / "tools" / "app-contract"))
    spec = importlib.util.spec_from_loader("app_contract", loader)
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    assert module.contract() == module.TARGET.read_text(encoding="utf-8"), "run tools/app-contract"


def test_the_app_says_the_same_of_the_hose_as_the_board():
    assert HOSE in (ROOT / "ui" / "src" / "words" / "en.ts").read_text(encoding="utf-8")
