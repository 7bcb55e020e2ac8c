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
    op.create_table(
        "variant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("construction_id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(length=80), nullable=False),
        sa.Column("query", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(length=2000), nullable=False),
        sa.Column("promoted_version", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["construction_id"],
            ["construction.id"],
            name=op.f("fk_variant_construction_id_construction"),
        ),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["person.id"], name=op.f("fk_variant_owner_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_variant")),
        sa.UniqueConstraint(
            "construction_id", "name", name=op.f("uq_variant_construction_id_name")
        ),
    )
    with op.batch_alter_table("variant", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_variant_construction_id"), ["construction_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_variant_owner_id"), ["owner_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("variant", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_variant_owner_id"))
        batch_op.drop_index(batch_op.f("ix_variant_construction_id"))
    op.drop_table("variant")
