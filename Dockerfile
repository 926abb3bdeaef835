# The team server: one image for the web, the workers, the beat and the one-shot that migrates.
FROM python:3.11-slim

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 PIP_NO_CACHE_DIR=1 \
    TEAMTRACK_DATA_DIR=/var/lib/teamtrack TEAMTRACK_STATIC_ROOT=/srv/static

RUN useradd --system --uid 10001 --create-home --home-dir /var/lib/teamtrack teamtrack \
    && install -d -o teamtrack -g teamtrack /srv/static \
    && install -d -m 0700 -o teamtrack -g teamtrack /var/lib/teamtrack-keys

WORKDIR /srv/teamtrack
COPY pyproject.toml constraints.txt README.md LICENSE ./
COPY teamtrack teamtrack
COPY athletes athletes
COPY sessions sessions
COPY manage.py ./
RUN pip install --constraint constraints.txt --editable .

USER teamtrack
# A key for this one command alone: it is not kept in the image, and nothing is signed with it.
RUN SECRET_KEY=collectstatic-only python manage.py collectstatic --noinput --verbosity 0

EXPOSE 8000
CMD ["gunicorn", "-c", "python:teamtrack.common.serving.gunicorn_settings", "--bind", "0.0.0.0:8000"]
