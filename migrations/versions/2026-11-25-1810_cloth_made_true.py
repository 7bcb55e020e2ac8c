"""cloth made true

Revision: 3c1f0a6de842, after fd5325429758
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import server.store.exact

revision = "3c1f0a6de842"
down_revision = "fd5325429758"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass


def downgrade() -> None:
    pass
