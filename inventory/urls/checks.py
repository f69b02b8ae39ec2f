"""Moisture checks: the worker's round, entering, reading and correcting a check."""

from django.urls import URLPattern, path

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)
from inventory.views import boards, checks, weighing

urlpatterns: list[URLPattern] = [
    path("moisture/", checks.check_round, name="check_round"),
    path("slabs/<slab:code>/check/", checks.check_new, name="check_new"),
    path("checks/<int:pk>/", checks.check_page, name="check_page"),
    path("checks/<int:pk>/correct/", checks.check_correct, name="check_correct"),
    path("slabs/<slab:code>/weigh/", weighing.weigh_new, name="weigh_new"),
    path("weighings/<int:pk>/correct/", weighing.weigh_correct, name="weigh_correct"),
    path("boards/", boards.boards, name="boards"),
    path("boards/new/", boards.board_new, name="board_new"),
    path("boards/<int:pk>/", boards.board, name="board"),
    path("boards/<int:pk>/edit/", boards.board_edit, name="board_edit"),
    path("boards/<int:pk>/sections/", boards.board_sections, name="board_sections"),
    path("boards/<int:pk>/weigh/", boards.board_weigh, name="board_weigh"),
    path("boards/sections/<int:pk>/correct/", boards.sections_correct, name="sections_correct"),
    path(
        "boards/weighings/<int:pk>/correct/", boards.board_weigh_correct, name="board_weigh_correct"
    ),
]
