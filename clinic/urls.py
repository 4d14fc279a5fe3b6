"""Addresses: plural nouns; verbs only by POST; codes and ids, never names."""

from allauth.account import views as account
from django.urls import include, path

from clinic.views import sign_in

urlpatterns = [
    path("", sign_in.home, name="home"),
    path("healthz", sign_in.healthz, name="healthz"),
    path("accounts/login/", account.login, name="account_login"),
    path("accounts/logout/", account.logout, name="account_logout"),
    path("accounts/reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("accounts/2fa/", include("allauth.mfa.urls")),
    path("", include("outcomes.urls")),
]
