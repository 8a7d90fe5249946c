"""What can go wrong in the kernel room, as exceptions that name the step."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager


class KernelError(Exception):
    """A geometric operation failed or gave a result that its own checks refuse.

    ``step`` names the operation ("cut", "merge", "offset" …); ``detail`` says in one sentence what was seen.
    """

    def __init__(self, step: str, detail: str = "") -> None:
        self.step = step
        self.detail = detail
        super().__init__(f"{step}: {detail}" if detail else step)

    def __reduce__(self) -> tuple[type[KernelError], tuple[str, str]]:
        """Survive the way back from a child process."""
        return (type(self), (self.step, self.detail))


BROKEN = (KernelError, ArithmeticError, LookupError, ValueError)
"""What geometry that cannot go on raises: the kernel's failures, and our own sums on shapes that nobody foresaw."""


def said(error: Exception) -> str:
    """What such an error says, with its kind where it is none of the kernel's."""
    return str(error) if isinstance(error, KernelError) else f"{type(error).__name__}: {error}"


@contextmanager
def kernel_step(step: str) -> Iterator[None]:
    """Whatever the kernel throws inside the block (its exceptions have no common base with ours) as a KernelError."""
    try:
        yield
    except (KernelError, MemoryError):
        raise
    except Exception as error:
        raise KernelError(
            step, f"{type(error).__name__}: {str(error).splitlines()[0] if str(error) else ''}"
        ) from error
