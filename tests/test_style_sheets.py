"""Every style sheet of the site can be read to its end, so that no rule swallows those behind it."""

from pathlib import Path

import pytest
import tinycss2
from django.conf import settings

SHEETS = sorted((Path(settings.BASE_DIR) / "static" / "css").glob("*.css"))


def faults(rules: list[tinycss2.ast.Node]) -> list[str]:
    """What the parser of the paper library could not read, and rules written inside others."""
    found = []
    for rule in rules:
        if rule.type == "error":
            found.append(f"line {rule.source_line}: {rule.message}")
        elif rule.type == "at-rule" and rule.content is not None and rule.lower_at_keyword in ("media", "supports"):
            found += faults(tinycss2.parse_rule_list(rule.content, skip_comments=True, skip_whitespace=True))
        elif rule.type == "qualified-rule":
            inside = tinycss2.parse_blocks_contents(rule.content, skip_comments=True, skip_whitespace=True)
            found += [f"line {one.source_line}: a rule within a rule" for one in inside if one.type != "declaration"]
    return found


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_a_style_sheet_is_read_to_its_end(sheet: Path) -> None:
    rules = tinycss2.parse_stylesheet(sheet.read_text(encoding="utf-8"), skip_comments=True, skip_whitespace=True)
    assert rules
    assert faults(rules) == []
