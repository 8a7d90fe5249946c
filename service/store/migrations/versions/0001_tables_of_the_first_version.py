"""Tables of the first version"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.Float(), nullable=False),
        sa.Column("tenant", sa.String(length=64), nullable=False),
        sa.Column("key", sa.String(length=16), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("object", sa.String(length=80), nullable=False),
        sa.Column("request", sa.String(length=64), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("audit", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_audit_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_audit_tenant"), ["tenant"], unique=False)

    op.create_table(
        "files",
        sa.Column("tenant", sa.String(length=64), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("object", sa.String(length=200), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("created", sa.Float(), nullable=False),
        sa.Column("last_used", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint("tenant", "sha256"),
    )
    with op.batch_alter_table("files", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_files_last_used"), ["last_used"], unique=False)

    op.create_table(
        "jobs",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("tenant", sa.String(length=64), nullable=False),
        sa.Column("key", sa.String(length=16), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=True),
        sa.Column("idempotency_key", sa.String(length=255), nullable=True),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("part", sa.String(length=64), nullable=False),
        sa.Column("inputs", sa.JSON(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("beat", sa.Integer(), nullable=False),
        sa.Column("worker", sa.String(length=100), nullable=True),
        sa.Column("losses", sa.Integer(), nullable=False),
        sa.Column("crashes", sa.Integer(), nullable=False),
        sa.Column("progress", sa.JSON(), nullable=True),
        sa.Column("verdict", sa.String(length=8), nullable=True),
        sa.Column("counts", sa.JSON(), nullable=True),
        sa.Column("problem", sa.JSON(), nullable=True),
        sa.Column("artefacts", sa.JSON(), nullable=True),
        sa.Column("request", sa.String(length=64), nullable=True),
        sa.Column("created", sa.Float(), nullable=False),
        sa.Column("started", sa.Float(), nullable=True),
        sa.Column("finished", sa.Float(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("tenant", "idempotency_key", name="uq_jobs_tenant_idempotency_key"),
    )
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.create_index("ix_jobs_part", ["tenant", "part"], unique=False)
        batch_op.create_index("ix_jobs_state", ["state", "id"], unique=False)
        batch_op.create_index("ix_jobs_tenant_kind_id", ["tenant", "kind", "id"], unique=False)

    op.create_table(
        "keys",
        sa.Column("id", sa.String(length=16), nullable=False),
        sa.Column("tenant", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("scopes", sa.JSON(), nullable=False),
        sa.Column("requests_per_minute", sa.Integer(), nullable=False),
        sa.Column("max_active", sa.Integer(), nullable=False),
        sa.Column("created", sa.Float(), nullable=False),
        sa.Column("expires", sa.Float(), nullable=True),
        sa.Column("revoked", sa.Float(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("keys", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_keys_tenant"), ["tenant"], unique=False)

    op.create_table(
        "webhooks",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("tenant", sa.String(length=64), nullable=False),
        sa.Column("url", sa.String(length=2000), nullable=False),
        sa.Column("generation", sa.Integer(), nullable=False),
        sa.Column("rotated", sa.Float(), nullable=True),
        sa.Column("created", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("webhooks", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_webhooks_tenant"), ["tenant"], unique=False)

    op.create_table(
        "deliveries",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("webhook", sa.String(length=32), nullable=False),
        sa.Column("job", sa.String(length=32), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("next_at", sa.Float(), nullable=False),
        sa.Column("last_result", sa.String(length=200), nullable=True),
        sa.Column("created", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["webhook"], ["webhooks.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("webhook", "job", name="uq_deliveries_webhook_job"),
    )
    with op.batch_alter_table("deliveries", schema=None) as batch_op:
        batch_op.create_index("ix_deliveries_due", ["state", "next_at"], unique=False)


def downgrade() -> None:
    """Undo."""
    with op.batch_alter_table("deliveries", schema=None) as batch_op:
        batch_op.drop_index("ix_deliveries_due")

    op.drop_table("deliveries")
    with op.batch_alter_table("webhooks", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_webhooks_tenant"))

    op.drop_table("webhooks")
    with op.batch_alter_table("keys", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_keys_tenant"))

    op.drop_table("keys")
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.drop_index("ix_jobs_tenant_kind_id")
        batch_op.drop_index("ix_jobs_state")
        batch_op.drop_index("ix_jobs_part")

    op.drop_table("jobs")
    with op.batch_alter_table("files", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_files_last_used"))

    op.drop_table("files")
    with op.batch_alter_table("audit", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_audit_tenant"))
        batch_op.drop_index(batch_op.f("ix_audit_at"))

    op.drop_table("audit")
