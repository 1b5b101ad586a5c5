from django.urls import include, path

from shop.views import books, customers, door, export, home, order_form, order_page, orders, setup

urlpatterns = [
    path("", home.tonight, name="tonight"),
    path("burn/", home.burn, name="burn"),
    path("welcome/", door.welcome, name="welcome"),
    path("sign-in/", door.SignIn.as_view(), name="sign_in"),
    path("sign-out/", door.sign_out, name="sign_out"),
    path("", include("inventory.urls")),
    path("", include("production.urls")),
    path("customers/", customers.customers, name="customers"),
    path("customers/new/", customers.customer_new, name="customer_new"),
    path("customers/<int:pk>/", customers.customer, name="customer"),
    path("orders/", orders.orders, name="orders"),
    path("orders/products/", order_form.order_products, name="order_products"),
    path("orders/new/", order_form.order_new, name="order_new"),
    path("orders/<int:pk>/", order_page.order, name="order"),
    path("orders/<int:pk>/edit/", order_form.order_edit, name="order_edit"),
    path("orders/<int:pk>/ship/", orders.order_ship, name="order_ship"),
    path("orders/<int:pk>/cancel/", orders.order_cancel, name="order_cancel"),
    path("orders/", include("shop.urls_selling")),
    path("books/", books.books, name="books"),
    path("setup/", setup.setup, name="setup"),
    path("setup/take-away/", export.take_away, name="take_away"),
    path("setup/take-away/everything.xlsx", export.workbook, name="take_away_xlsx"),
    path("setup/take-away/everything.zip", export.archive, name="take_away_zip"),
    path("setup/shop/", setup.shop_edit, name="shop_edit"),
    path("setup/people/new/", setup.person_new, name="person_new"),
    path("setup/people/<int:pk>/", setup.person_edit, name="person_edit"),
    path("setup/places/new/", setup.place_new, name="place_new"),
]
handler403 = "shop.views.home.forbidden"
handler404 = "shop.views.home.not_found"
handler500 = "shop.views.home.failed"
