"""`manage.py serve`: a real yard on this machine, for the phones and tablets of the shop."""

import getpass
import os
import sys
from typing import Any

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from catalogue import serving
from inventory.models import Person


class Command(BaseCommand):
    help = "Bring up a real yard: asks for the first owner, then serves it to the local network."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="0.0.0.0", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        serving.prepare(self.stdout.write)
        if not Person.objects.filter(groups__name="Owner", is_active=True).exists():
            self.make_first_owner()
        port = serving.free_port(options["host"], options["port"])
        self.print_addresses(options["host"], port)
        serving.serve(options["host"], port)

    def make_first_owner(self) -> None:
        """Ask for the owner, or take them from the environment where nobody can be asked."""
        name = os.environ.get("WANEYARD_OWNER", "")
        password = os.environ.get("WANEYARD_OWNER_PASSWORD", "")
        if not (name and password):
            if not sys.stdin.isatty():
                raise CommandError(
                    "This yard has no owner yet. Start it from a terminal to be asked for one, or "
                    "set WANEYARD_OWNER and WANEYARD_OWNER_PASSWORD for this first start."
                )
            name, password = self.ask_for_owner()
        owner = Person.objects.create_user(name, password=password, is_staff=True)
        owner.groups.add(Group.objects.get(name="Owner"))
        self.stdout.write(self.style.SUCCESS(f"{name} owns this yard now."))

    def ask_for_owner(self) -> tuple[str, str]:
        self.stdout.write("A new yard. Who is its owner?")
        name = self.ask_for_name()
        while True:
            password = getpass.getpass("Password: ")
            problems = password_problems(password, name)
            if problems:
                self.stdout.write("\n".join(problems))
            elif getpass.getpass("The same again: ") != password:
                self.stdout.write("The two are not the same. Once more.")
            else:
                return name, password

    def ask_for_name(self) -> str:
        while True:
            name = input("Name to sign in with: ").strip()
            try:
                Person(username=name).clean_fields(exclude=["password"])
            except ValidationError as problem:
                self.stdout.write("\n".join(problem.messages))
            else:
                return name

    def print_addresses(self, host: str, port: int) -> None:
        here = f"http://localhost:{port}/"
        self.stdout.write(f"\nOn this machine:   {here}")
        lan = serving.lan_address() if host == "0.0.0.0" else None
        if lan:
            address = f"http://{lan}:{port}/"
            serving.answer_to(lan)
            self.stdout.write(f"From a phone here: {address}\n")
            self.stdout.write(serving.qr_for_terminal(address))
        self.stdout.write("Stop with Ctrl+C.")


def password_problems(password: str, name: str) -> list[str]:
    try:
        validate_password(password, Person(username=name))
    except ValidationError as problem:
        return list(problem.messages)
    return []
