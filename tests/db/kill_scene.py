"""Makes the club that the kill test talks to, and prints who signs in: `python -m tests.db.kill_scene`."""

import json

import django

django.setup()

from django.core.management import call_command  # noqa: E402

from tests.people import PASSWORD, answer, make_scene  # noqa: E402


def main() -> None:
    call_command("migrate", verbosity=0)
    scene = make_scene()
    coaches = (scene.coach, scene.second_coach)
    answer(scene.adult_athlete, scene.adult_athlete, names=coaches)
    facts = {
        "session": str(scene.training_session.pk),
        "athletes": [str(scene.adult_athlete.pk)],
        "password": PASSWORD,
        "coaches": [{"username": coach.account.username, "person": str(coach.pk)} for coach in coaches],
    }
    print(json.dumps(facts))


if __name__ == "__main__":
    main()
