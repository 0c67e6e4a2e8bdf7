"""Facts that wait for their tables: each says which need it belongs to and what it is about."""

import json
import re
import tomllib

from app.settings import program_dir

SEED = program_dir() / "seed_demo"
FACTS = tomllib.loads((SEED / "facts.toml").read_text("utf-8"))["fact"]
SCENARIO = json.loads((SEED / "scenario.json").read_text("utf-8"))


def test_every_fact_says_its_need_and_a_sentence() -> None:
    for fact in FACTS:
        assert set(fact) == {"need", "about", "text"}
        assert re.fullmatch(r"[A-Z]\d+(, [A-Z]\d+)*", fact["need"]), fact["need"]
        assert fact["text"].endswith(".")


def test_what_a_fact_is_about_is_in_the_scenario() -> None:
    ids = {
        row["id"]
        for name in ("panels", "boards", "functions", "components", "made_parts", "supplies")
        for row in SCENARIO[name]
    }
    for fact in FACTS:
        assert fact["about"]
        assert set(fact["about"]) <= ids, fact
