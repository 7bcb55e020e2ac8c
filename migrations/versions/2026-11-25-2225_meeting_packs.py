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
    op.create_table(
        "meeting_pack",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("reference", sqlmodel.sql.sqltypes.AutoString(length=60), nullable=False),
        sa.Column("title", sqlmodel.sql.sqltypes.AutoString(length=200), nullable=False),
        sa.Column("buyer", sqlmodel.sql.sqltypes.AutoString(length=200), nullable=False),
        sa.Column("meeting", sa.Date(), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(length=4000), nullable=False),
        sa.Column("words", sqlmodel.sql.sqltypes.AutoString(length=4000), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("basis_name", sqlmodel.sql.sqltypes.AutoString(length=120), nullable=False),
        sa.Column("basis_changes", sa.JSON(), nullable=False),
        sa.Column("shown", sa.JSON(), nullable=False),
        sa.Column("follows", sqlmodel.sql.sqltypes.AutoString(length=60), nullable=False),
        sa.Column("superseded_by", sqlmodel.sql.sqltypes.AutoString(length=60), nullable=False),
        sa.Column("frozen_at", server.store.exact.Moment(timezone=True), nullable=True),
        sa.Column("engine", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("digest", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["person.id"], name=op.f("fk_meeting_pack_owner_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meeting_pack")),
        sa.UniqueConstraint("reference", name=op.f("uq_meeting_pack_reference")),
    )
    with op.batch_alter_table("meeting_pack", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_meeting_pack_owner_id"), ["owner_id"], unique=False)

    op.create_table(
        "pack_cloth",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("pack_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=60), nullable=False),
        sa.Column("variant", sqlmodel.sql.sqltypes.AutoString(length=80), nullable=False),
        sa.Column("pairs", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["person.id"], name=op.f("fk_pack_cloth_owner_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["pack_id"], ["meeting_pack.id"], name=op.f("fk_pack_cloth_pack_id_meeting_pack")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pack_cloth")),
    )
    with op.batch_alter_table("pack_cloth", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pack_cloth_owner_id"), ["owner_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pack_cloth_pack_id"), ["pack_id"], unique=False)

    op.create_table(
        "pack_content",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pack_id", sa.Integer(), nullable=False),
        sa.Column("pack", sa.Text(), nullable=False),
        sa.Column("given", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["pack_id"], ["meeting_pack.id"], name=op.f("fk_pack_content_pack_id_meeting_pack")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pack_content")),
        sa.UniqueConstraint("pack_id", name=op.f("uq_pack_content_pack_id")),
    )
    op.create_table(
        "pack_share",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("row_version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("pack_id", sa.Integer(), nullable=False),
        sa.Column("token_digest", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column("whom", sqlmodel.sql.sqltypes.AutoString(length=200), nullable=False),
        sa.Column("shown", sa.JSON(), nullable=False),
        sa.Column("made_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("expires_at", server.store.exact.Moment(timezone=True), nullable=False),
        sa.Column("revoked_at", server.store.exact.Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["person.id"], name=op.f("fk_pack_share_owner_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["pack_id"], ["meeting_pack.id"], name=op.f("fk_pack_share_pack_id_meeting_pack")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pack_share")),
        sa.UniqueConstraint("token_digest", name=op.f("uq_pack_share_token_digest")),
    )
    with op.batch_alter_table("pack_share", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pack_share_owner_id"), ["owner_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pack_share_pack_id"), ["pack_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("pack_share", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pack_share_pack_id"))
        batch_op.drop_index(batch_op.f("ix_pack_share_owner_id"))

    op.drop_table("pack_share")
    op.drop_table("pack_content")
    with op.batch_alter_table("pack_cloth", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pack_cloth_pack_id"))
        batch_op.drop_index(batch_op.f("ix_pack_cloth_owner_id"))

    op.drop_table("pack_cloth")
    with op.batch_alter_table("meeting_pack", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_meeting_pack_owner_id"))

    op.drop_table("meeting_pack")
