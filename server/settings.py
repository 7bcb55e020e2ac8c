"""Everything that is set from outside, read once from the environment."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

LOOPBACK = ("127.0.0.1", "::1", "localhost")


class Settings(BaseSettings):
    """One frozen object. Every setting has a default and a sentence; unsafe values are refused."""

    model_config = SettingsConfigDict(env_prefix="CREELBOOK_", frozen=True, extra="ignore")

    database_url: str = Field(
        "sqlite:///creelbook.sqlite",
        description="Where everything is kept: a SQLite file, or postgresql://… for a team.",
    )
    host: str = Field("127.0.0.1", description="Address to listen on; loopback by default.")
    port: int = Field(8750, ge=0, le=65535, description="Port to listen on; 0 takes a free one.")
    demo: bool = Field(False, description="Show the banner of the demonstration.")
    max_body_bytes: int = Field(
        2_000_000, ge=10_000, le=50_000_000, description="Largest form field or API body accepted."
    )
    max_upload_bytes: int = Field(
        10_000_000, ge=10_000, le=50_000_000, description="Largest file accepted for import."
    )
    open_to_network: bool = Field(
        False,
        description="Allow listening beyond loopback, behind a proxy that signs people in; there "
        "is no sign-in of its own yet.",
    )

    @model_validator(mode="after")
    def refuse_open_doors(self) -> Self:
        """Without sign-in, listening beyond loopback has to be asked for in so many words."""
        if self.host not in LOOPBACK and not self.open_to_network:
            raise ValueError(
                f"CREELBOOK_HOST is {self.host}, which other machines can reach, and Creelbook has "
                "no sign-in of its own yet. Listen on 127.0.0.1, or set "
                "CREELBOOK_OPEN_TO_NETWORK=true behind a proxy that signs people in."
            )
        return self
