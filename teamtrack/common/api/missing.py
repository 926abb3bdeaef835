"""The answer of the API where there is no such address: after the sign-in, the same as for what is not yours."""

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.views import APIView

from teamtrack.common.errors import NotFound


@extend_schema(exclude=True)
class Missing(APIView):
    """No such address, whatever the method."""

    schema = None

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        raise NotFound()
