"""Help of the command line by the question a command answers, instead of one long list."""

from __future__ import annotations

from typing import Any

from typer.core import TyperGroup

# In the order of the work; a command that stands in no group is shown under "More".
_GROUPS = {
    "Begin": "demo serve practice-bench",
    "Live at the bench": "instruments replay",
    "Sheets and results": "import reduce findings compare air",
    "How good is it": "rank find cuts translate bench calibrate repeatability review claims",
    "The port": "port shape wall pitot trace section scan limits",
    "Valve, chamber, deck": "inspect seat room mill manifold springs",
    "On the engine": "engine tube",
    "The customer": "job report say share photos sheet label",
    "The shop file": "backup backups restore export upgrade move-shop health diagnose",
    "Who may do what": "users tokens audit",
}
_WHOLE_SENTENCE = 300  # letters


class GroupedCommands(TyperGroup):
    """The commands of Portwright, grouped in the help."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands under their headings."""
        # the types of both are private to typer
        grouped = {name for names in _GROUPS.values() for name in names.split()}
        commands = {name: self.get_command(ctx, name) for name in self.list_commands(ctx)}
        rest = " ".join(name for name in commands if name not in grouped)
        for heading, names in (*_GROUPS.items(), ("More", rest)):
            rows = [
                (name, command.get_short_help_str(_WHOLE_SENTENCE))
                for name in names.split()
                if (command := commands.get(name)) is not None and not command.hidden
            ]
            if rows:
                with formatter.section(heading):
                    formatter.write_dl(rows)
