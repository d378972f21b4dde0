"""What a PostgreSQL role may do that the pages use: add to the record and read it, and never change its tables.

Tables belong to another role, which runs `migrate`. Facts and entries may be read and added to and nothing else, so
that the database refuses their change even where a trigger is gone.
"""

from __future__ import annotations

from collections.abc import Iterator

from records.ledger import triggers


def statements(connection, role: str) -> Iterator[str]:
    """The SQL that gives the role exactly that, taking back what it had before."""
    name = connection.ops.quote_name(role)
    protected = set(triggers.tables()) | {"django_migrations"}
    yield f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {name}"
    yield f"REVOKE CREATE ON SCHEMA public FROM {name}"
    yield "REVOKE CREATE ON SCHEMA public FROM PUBLIC"
    yield f"GRANT USAGE ON SCHEMA public TO {name}"
    for table in sorted(connection.introspection.table_names()):
        rights = "SELECT" if table == "django_migrations" else "SELECT, INSERT"
        rights += "" if table in protected else ", UPDATE, DELETE"
        yield f"GRANT {rights} ON {connection.ops.quote_name(table)} TO {name}"
    yield f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {name}"


def exists(connection, role: str) -> bool:
    """Whether the server knows a role of that name."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [role])
        return cursor.fetchone() is not None


def may_too_much(connection, role: str) -> str:
    """Why nothing could be kept from the role: it owns tables or may do all; "" where something can."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper FROM pg_roles WHERE rolname = %s", [role])
        if cursor.fetchone()[0]:
            return "is a superuser"
        cursor.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public' AND tableowner = %s", [role])
        owned = cursor.fetchone()[0]
    return f"owns {owned} of the tables" if owned else ""
