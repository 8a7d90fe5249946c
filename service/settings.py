"""All settings of the service, from environment variables (``RECLAMP_...``) or secret files of the same name."""

from __future__ import annotations

from pathlib import Path

from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, SettingsConfigDict

SECRETS_DIR = Path("/run/secrets")
MIB = 1024 * 1024


class Settings(BaseSettings):
    """One value for the whole process. Sizes in bytes, times in seconds, unless the name says otherwise.

    An empty ``database_url``, ``broker_url`` or ``store_url`` means SQLite, a unix socket or a folder below ``data``.
    """

    model_config = SettingsConfigDict(
        env_prefix="RECLAMP_", secrets_dir=SECRETS_DIR if SECRETS_DIR.is_dir() else None, frozen=True, extra="ignore"
    )

    data: Path = Path("reclamp-data")
    database_url: SecretStr = SecretStr("")
    broker_url: SecretStr = SecretStr("")
    store_url: str = ""
    secret: SecretStr = Field(default=SecretStr(""), description="master secret; signing keys are derived from it")

    auth: bool = True
    metrics_public: bool = False
    docs: bool = True
    root_path: str = ""

    max_part_bytes: int = Field(default=64 * MIB, gt=0)
    max_request_bytes: int = Field(default=160 * MIB, gt=0)
    max_files: int = Field(default=16, ge=0)
    body_seconds: float = Field(default=120.0, gt=0, description="the whole body must have arrived by then")
    wait_max: float = Field(default=60.0, ge=0)
    max_streams: int = Field(default=64, gt=0, description="server-sent event streams open at once")

    time_limit: float = Field(default=300.0, gt=0)
    memory_limit_mb: int = Field(default=4096, gt=0)
    cache_mb: int = Field(default=2048, ge=0, description="results of earlier checks on a worker's disk; 0: none")
    cache_hours: float = Field(default=24.0, gt=0, description="after so long without use it is deleted")
    lease: float = Field(default=15.0, gt=0, description="a running job without a heartbeat for so long is lost")
    heartbeat: float = Field(default=2.0, gt=0)
    relay_interval: float = Field(default=1.0, gt=0)
    republish_after: float = Field(default=5.0, gt=0)
    max_losses: int = Field(default=2, ge=1, description="workers that one job may cost")
    max_crashes: int = Field(default=2, ge=1, description="kernel children that one job may cost")

    retention_days: float = Field(default=30.0, gt=0)
    max_active: int = Field(default=2000, gt=0, description="checks of one key waiting or running at once")
    max_tenant_bytes: int = Field(default=20 * 1024 * MIB, gt=0, description="uploaded files of one tenant")
    requests_per_minute: int = Field(default=1200, gt=0)
    failed_logins_per_minute: int = Field(default=30, gt=0)

    webhook_private_networks: bool = Field(default=False, description="allow deliveries to non-public addresses")
    webhook_attempts: int = Field(default=8, ge=1)
    webhook_first_delay: float = Field(default=5.0, gt=0)
    webhook_timeout: float = Field(default=10.0, gt=0)

    log_level: str = "INFO"

    def database(self) -> str:
        """The SQLAlchemy URL of the database."""
        return self.database_url.get_secret_value() or f"sqlite:///{self.data.resolve() / 'reclamp.db'}"

    def broker(self) -> str:
        """The URL of the broker, a unix socket below ``data`` when none is given."""
        return self.broker_url.get_secret_value() or f"redis+socket://{self.data.resolve() / 'broker.sock'}"

    def store(self) -> str:
        """The URL of the artefact store."""
        return self.store_url or (self.data.resolve() / "store").as_uri()
