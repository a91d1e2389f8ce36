"""The errors this program raises on purpose; only the command line catches them."""


class PumproundsError(Exception):
    """Base of every error a user can mend; its text says where, what, and what to do."""


class RegisterError(PumproundsError):
    """The register folder cannot be used at all (missing folder, missing key file)."""


class LogError(PumproundsError):
    """No log could be used, or a log file cannot be opened."""


class ProfileError(PumproundsError):
    """A log profile (TOML) is not valid."""


class WeightsError(PumproundsError):
    """A company's own weights (TOML) cannot be used."""


class StoreError(PumproundsError):
    """The store cannot be opened, is locked by another process, or has another schema."""


class WeekError(PumproundsError):
    """A week is not an ISO week, or the store has no data for it."""


class WorkerError(PumproundsError):
    """The processes that the work was spread over are lost, or cannot be reached."""
