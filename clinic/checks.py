"""Deploy checks of our own: what a clinic must have set before patients are entered."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register


@register(Tags.security, deploy=True)
def https_for_tablets(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """Tablets need HTTPS: without it passkeys, wake lock and offline work are missing."""
    if settings.SECURE_SSL_REDIRECT and settings.SECURE_HSTS_SECONDS:
        return []
    return [
        Warning(
            "The site is not served by HTTPS only.",
            hint="Set KNEELEDGER_PROFILE=production behind the reverse proxy of README.md.",
            id="kneeledger.W001",
        )
    ]
