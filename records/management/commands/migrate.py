"""Django's `migrate`, which also mends a database whose append-only triggers are gone, in a third of the time.

Missing triggers fail the check of the database, and `migrate` is what brings them back: so it must not be stopped by
that check. A migration that failed half way leaves the same state behind.

Nearly all the time of a `migrate` from nothing went into making the historical models anew: each step remade every
model that hangs on a changed one, and here all hang together by the entry. See `Frugal`.
"""

from django.core.management.base import BaseCommand
from django.core.management.commands import migrate
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.state import ProjectState


class Frugal(ProjectState):
    """The historical models, of which a step remakes only the one it changes, where nothing else can depend on it.

    That holds for a new model, and for a change that Django itself calls delayed (no relation, no key): the tables
    are made from the changed model and from the names of tables and columns of its neighbours, which stay. Whatever
    asks for more, a relation or Python code run over the models, gets all of them remade: Django asks `is_delayed`
    for the latter, here it is asked for the former.
    """

    def add_model(self, model_state):
        apps = self.__dict__.pop("apps", None)
        super().add_model(model_state)
        if apps is not None:
            self.apps, self.is_delayed = apps, True
            apps.render_multiple([model_state])

    def reload_model(self, app_label, model_name, delay=False):
        if not delay:
            self.__dict__.pop("apps", None)  # made anew, all of them, when they are asked for
        super().reload_model(app_label, model_name, delay)

    def _find_reload_model(self, app_label, model_name, delay=False):
        key = (app_label, model_name)
        if not delay or self._is_a_base(key):
            return super()._find_reload_model(app_label, model_name, delay)
        self.is_delayed = True
        return {key}

    def _is_a_base(self, key) -> bool:
        """Whether another model takes columns over from it."""
        name = ".".join(key)
        return any(str(base).lower() == name for state in self.models.values() for base in state.bases)

    def clone(self):
        made = super().clone()
        made.__class__ = type(self)
        return made


class Executor(MigrationExecutor):
    def _create_project_state(self, with_applied_migrations=False):
        state = super()._create_project_state(with_applied_migrations)
        state.__class__ = Frugal
        return state


class Command(migrate.Command):
    def get_check_kwargs(self, options):
        return BaseCommand.get_check_kwargs(self, options)  # without `databases`: none of theirs is checked

    def handle(self, *args, **options):
        # Django's command takes the class from its module, and from nowhere else.
        usual, migrate.MigrationExecutor = migrate.MigrationExecutor, Executor
        try:
            return super().handle(*args, **options)
        finally:
            migrate.MigrationExecutor = usual
