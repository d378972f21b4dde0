"""Papers on file inside the binder: reading them, making their pages ready, putting them in."""

from .fill import fill
from .of_binder import gather_papers

__all__ = ["fill", "gather_papers"]
