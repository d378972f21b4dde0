"""Rules as data: what a place and a programme ask, each rule with its source. See `audit.regimes.load`."""

from .load import all_regimes, load_regime, regime_ids
from .model import (
    FREQUENCIES,
    Duty,
    FailurePath,
    LookBackRule,
    NoticeRule,
    PathStep,
    Regime,
    RegimeError,
    ReleaseRule,
    Requalification,
    Retention,
    Validity,
    VerificationSet,
)

__all__ = [
    "FREQUENCIES",
    "Duty",
    "FailurePath",
    "LookBackRule",
    "NoticeRule",
    "PathStep",
    "Regime",
    "RegimeError",
    "ReleaseRule",
    "Requalification",
    "Retention",
    "Validity",
    "VerificationSet",
    "all_regimes",
    "load_regime",
    "regime_ids",
]
