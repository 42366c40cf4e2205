"""Official releases into snapshots, on a schedule, safely; and what moves with them.

Nothing heavy is imported here: the network libraries come with the first request.
"""

from __future__ import annotations

from pipeline.refresh.run import RefreshResult, load_config, refresh

__all__ = ["RefreshResult", "load_config", "refresh"]
