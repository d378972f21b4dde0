"""All defects that are put into a good file to prove that each check can fail."""

from tests.audit.binder.standards import file_defects, tree_defects  # noqa: F401 - they register themselves
from tests.audit.binder.standards.registry import DEFECTS, Defect, spoilt

__all__ = ["DEFECTS", "Defect", "spoilt"]
