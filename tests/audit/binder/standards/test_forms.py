"""The blank forms are files of the same standards as the binder."""

from __future__ import annotations

import pytest

from audit.binder.pdf.blank_forms import render_forms
from tests import fact_builders as b
from tests.audit.binder.blank_forms.told import TODAY, forms
from tests.audit.binder.standards.checks import findings


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("kind", ["day", "week", "visit"])
def test_a_form_is_in_order(kind, size):
    unit = b.unit("2024-01-01", type="dynamic air removal", events=(b.installed("2024-01-01"),))
    content, _ = render_forms(forms(kind, unit), TODAY, page_size=size)
    assert findings(content) == {}
