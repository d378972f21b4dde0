"""A company's parts: where each lot is, who holds which lots, and what is done about a recall."""
