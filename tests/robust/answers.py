"""What counts as an answer to bad input: one sentence, on one line, short enough to read."""

__all__ = ["sentence"]


def sentence(error: Exception, longest: int = 300) -> str:
    """The message of a refusal, proved to be one readable line."""
    said = str(error)
    assert said.strip(), f"{type(error).__name__} without a word"
    assert "\n" not in said, said
    assert len(said) <= longest, f"{len(said)} letters: {said[:80]}"
    assert "Traceback" not in said
    return said
