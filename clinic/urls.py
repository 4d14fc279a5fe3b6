"""Addresses: plural nouns; verbs only by POST; codes and ids, never names."""

from django.urls import include, path

from clinic.views import lock, me, sign_in, staff, tablets

handler403 = handler404 = "clinic.views.faults.refused"
handler400 = handler500 = "clinic.views.faults.failed"

urlpatterns = [
    path("", sign_in.home, name="home"),
    path("healthz", sign_in.healthz, name="healthz"),
    path("accounts/login/", sign_in.SignIn.as_view(), name="account_login"),
    path("accounts/logout/", sign_in.SignOut.as_view(), name="account_logout"),
    path("accounts/reauthenticate/", sign_in.Confirm.as_view(), name="account_reauthenticate"),
    path("accounts/2fa/authenticate/", sign_in.SecondFactor.as_view(), name="mfa_authenticate"),
    path("accounts/2fa/", include("allauth.mfa.urls")),
    path("lock/", lock.lock, name="lock"),
    path("lock/now", lock.lock_now, name="lock_now"),
    path("site/", sign_in.switch_site, name="switch_site"),
    path("me/", me.me, name="me"),
    path("me/pin", me.pin, name="me_pin"),
    path("me/password", me.password, name="me_password"),
    path("me/printed", me.printed, name="me_printed"),
    path("me/sessions/end", me.end_sessions, name="me_end_sessions"),
    path("clinic/", staff.clinic, name="clinic_settings"),
    path("clinic/sites/", staff.add_site, name="site_add"),
    path("clinic/sites/<slug:code>/", staff.site, name="site_edit"),
    path("clinic/roles/", staff.give_role, name="role_give"),
    path("clinic/roles/<int:ident>/end", staff.end_role, name="role_end"),
    path("clinic/roles/<int:ident>/renew", staff.renew, name="role_renew"),
    path("invitations/", staff.invite, name="invite"),
    path("invitations/<int:ident>/withdraw", staff.withdraw, name="invitation_withdraw"),
    path("invitations/<str:token>/", staff.accept, name="invitation"),
    path("tablets/", tablets.tablets, name="tablets"),
    path("tablets/<uuid:uid>/retire", tablets.retire, name="tablet_retire"),
    path("", include("outcomes.urls")),
]
