"""meeting packs

Revision: 9a4e07c25d13, after 3c1f0a6de842
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import server.store.exact

revision = "9a4e07c25d13"
down_revision = "3c1f0a6de842"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass


def downgrade() -> None:
    pass
