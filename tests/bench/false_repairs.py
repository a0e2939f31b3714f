"""False repairs on clean text: ``python -m tests.bench.false_repairs``.

Reads our own annotated narrations with every slip put right, so that whatever is still repaired is a false
repair. Prints each of them, then by group of narrations the words, the words changed and their share.
"""

from __future__ import annotations

from collections import Counter

from models.understanding.narrations.build import sources
from models.understanding.narrations.markup import parse_text
from models.understanding.narrations.schema import read
from narrator.language.pipeline import pipeline


def main() -> None:
    """One line a false repair, then one a group."""
    words: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    nlp = pipeline()
    for path in sources():
        group = path.stem[0]
        for line in parse_text(read(path).text):
            notes = nlp(line.meant)._.notes
            words[group] += len(line.meant.split())
            for repair in notes.repairs:
                if repair.rule != "repair.split":
                    wrong[group] += len(repair.heard.split())
                    print(f"{path.stem}  {repair.heard} -> {repair.meant}  ({repair.rule})  {line.meant}")
    for group in [*sorted(words), "all"]:
        total = sum(words.values()) if group == "all" else words[group]
        found = sum(wrong.values()) if group == "all" else wrong[group]
        print(f"{group}  {total} words, {found} changed, {100 * found / total:.3f} %")


if __name__ == "__main__":
    main()
