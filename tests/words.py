"""How many of the words are said in which language: ``python -m tests.words``; ``--missing de`` lists what German lacks.

Words are found in the code by its syntax: texts given to `say`, `worded` and `in_sense`, and texts of the folder of the sheets that are
words for people and are given to none of them.
"""

from __future__ import annotations

import ast
import re
import sys
from functools import cache
from pathlib import Path

from layout.words import DAYS, LANGUAGES, MONTHS, NOTE, catalogue

TOP = Path(__file__).parent.parent
PAGE = TOP / "layout" / "writers" / "page"
CALLS = ("say", "worded", "in_sense")
NOT_FOR_PEOPLE = ("Rule", "OutputError", "PlanError", "ValueError", "Literal", "TypeVar")
"""What is told by these stands on no drawing, or is a source."""
WORDS = re.compile(r"[a-z]{2,}[,.:;]? |[ ][a-z]{2,}")


@cache
def modules():
    """Every module with its tree, by its path from the top."""
    paths = sorted([*(TOP / "layout").rglob("*.py"), *(TOP / "cli").rglob("*.py")])
    return [(path.relative_to(TOP).as_posix(), ast.parse(path.read_text(encoding="utf-8"))) for path in paths]


def name_of(node):
    return getattr(node.func, "id", getattr(node.func, "attr", "")) if isinstance(node, ast.Call) else ""


def said_by_page():
    """What the page's frame says, behind a sign, and its script, each with its file."""
    for path in sorted(PAGE.iterdir()):
        found = {".js": r'\bT\("(.*?)"', ".html": r"@@=(.*?)@@"}.get(path.suffix)
        for text in re.findall(found, path.read_text(encoding="utf-8")) if found else ():
            yield text, path.relative_to(TOP).as_posix()


def said_in_code():
    """What the code says, each with the modules that say it; a word in a sense has its sense before it as in a catalogue."""
    result = {text: {"layout/words.py"} for text in (NOTE, *DAYS, *MONTHS)}
    for text, path in said_by_page():
        result.setdefault(text, set()).add(path)
    for path, tree in modules():
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or name_of(node) not in CALLS or path == "layout/words.py":
                continue
            texts = [arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
            if len(texts) == (2 if name_of(node) == "in_sense" else 1):
                result.setdefault("\4".join(texts), set()).add(path)
    return result


def not_for_people(tree):
    """Nodes of texts that are no words of a drawing: docstrings, errors, sources, annotations, and what is said."""
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.ClassDef, ast.Module)):
            yield from (child for each in node.body if isinstance(each, ast.Expr) for child in ast.walk(each))
        if isinstance(node, ast.Raise) or name_of(node) in (*CALLS, *NOT_FOR_PEOPLE):
            yield from ast.walk(node)
        if isinstance(node, ast.JoinedStr):
            yield from (each for each in node.values if isinstance(each, ast.Constant))


def unsaid(folder):
    """Texts of a folder's modules that are words for people, and are not said: by path."""
    result: dict[str, list[str]] = {}
    for path, tree in modules():
        if not path.startswith(folder):
            continue
        skipped = {id(node) for node in not_for_people(tree)}
        for node in ast.walk(tree):
            if id(node) in skipped or not isinstance(node, (ast.Constant, ast.JoinedStr)):
                continue
            parts = node.values if isinstance(node, ast.JoinedStr) else [node]
            text = "".join(part.value for part in parts if isinstance(part, ast.Constant) and isinstance(part.value, str))
            if WORDS.search(text):
                result.setdefault(path, []).append(text)
    return result


def main():
    """Tell the figures, or what a language lacks."""
    own = said_in_code()
    if "--missing" in sys.argv:
        there = catalogue(sys.argv[-1])
        for text in own:
            if not there.get(text):
                print(repr(text))
        return
    print(f"{len(own)} texts are said by the code")
    for language in LANGUAGES[1:]:
        print(f"  {language}: {sum(bool(catalogue(language).get(text)) for text in own)} translated")
    left = unsaid("layout/sheets/")
    print(f"{sum(map(len, left.values()))} texts of the sheets' own modules are not said:")
    for path, texts in left.items():
        print(f"  {path}: {texts}")


if __name__ == "__main__":
    main()
