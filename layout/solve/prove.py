"""The second core's work: `python -m layout.solve.prove`, in a process of its own that can be ended at once.

Reads a pickled task from standard input and writes one line of text for every
better bound: first the quick one, then, for small jobs, those of the constraint
programme. "none" says that not all parts can be placed.
"""

import pickle
import sys

from layout.solve.bound import question_of, quick_bound

__all__ = ["main"]


def main() -> int:
    """Read a task from standard input, write bounds as lines of text; the last begins with "done"."""
    boards, parts, shop, locked, seconds, copies = pickle.load(sys.stdin.buffer)

    def say(word: str, value: float | None) -> None:
        sys.stdout.write(f"{word} {'none' if value is None else repr(value)}\n")
        sys.stdout.flush()

    question = question_of(boards, parts, shop, locked)
    quick = quick_bound(question)
    say("bound", quick)
    if quick is not None and sum(question.wanted) <= copies:
        # The solver is slow to load, and the quick bound is waited for.
        from layout.solve.programme import proved_bound

        value, done = proved_bound(question, seconds, 1, lambda better: say("bound", better))
        say("done" if done else "bound", value)
    return 0


if __name__ == "__main__":
    sys.exit(main())
