"""The one settings module. Values come from the environment, with safe defaults for one machine."""

import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from moldcare import env

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env.text("MOLDCARE_DATA", default=str(BASE_DIR / "data")))
DEBUG = env.flag("MOLDCARE_DEBUG", default=False)


def _secret_key() -> str:
    """Return the key from the environment, else one made once and kept beside the data."""
    given = env.text("MOLDCARE_SECRET_KEY")
    if given:
        if len(given) < 50:
            raise ImproperlyConfigured("MOLDCARE_SECRET_KEY must have at least 50 characters.")
        return given
    path = DATA_DIR / "secret-key"
    if not path.exists():
        DATA_DIR.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(64))
    return path.read_text().strip()


SECRET_KEY = _secret_key()
ALLOWED_HOSTS = env.names("MOLDCARE_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.names("MOLDCARE_ORIGINS", default=[])
# addresses of proxies whose forwarding headers are believed; nobody else's are
TRUSTED_PROXIES = env.names("MOLDCARE_PROXIES", default=[])
IS_HTTPS = env.flag("MOLDCARE_HTTPS", default=False)

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "moldcare.plant",
    "moldcare.files",
    "moldcare.handin",
    "moldcare.logbook",
    "moldcare.molds",
    "moldcare.counters",
    "moldcare.production",
    "moldcare.care",
    "moldcare.work",
    "moldcare.feeds",
    "moldcare.pages",
    "moldcare.demo",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "moldcare.pages.middleware.SmallPagesMiddleware",
    "moldcare.pages.middleware.ContentPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "moldcare.pages.middleware.PlantMiddleware",
    "moldcare.pages.sign_in.idle.IdleMiddleware",
]

ROOT_URLCONF = "moldcare.urls"
WSGI_APPLICATION = "moldcare.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "moldcare.pages.context.shift_now",
                "moldcare.pages.sign_in.idle.idle_context",
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASES = {"default": env.database("DATABASE_URL", folder=DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
# a plant that moves to another database keeps its instants to the microsecond
SERIALIZATION_MODULES = {"json": "moldcare.dump"}

AUTH_USER_MODEL = "plant.Person"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "shift"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = IS_HTTPS
CSRF_COOKIE_SECURE = IS_HTTPS
CSRF_FAILURE_VIEW = "moldcare.pages.errors.csrf_failure"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_SSL_REDIRECT = IS_HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if IS_HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = IS_HTTPS
SECURE_HSTS_PRELOAD = IS_HTTPS
if IS_HTTPS and TRUSTED_PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
X_FRAME_OPTIONS = "DENY"

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "moldcare" / "locale"]
USE_I18N = True
USE_TZ = True
# the plant's own zone is taken from its record; the database and all code below the pages are UTC
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static-collected"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "moldcare.light_scripts.LightStaticFilesStorage"},
}
if env.flag("MOLDCARE_PLAIN_STATIC", default=DEBUG):
    STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = DATA_DIR / "files"
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_MEMORY_SIZE = 20 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_HANDLERS = [
    "moldcare.pages.large_uploads.CutOff",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.text("MOLDCARE_LOG", default="INFO")},
}
