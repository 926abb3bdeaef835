"""The address that gives the OpenAPI document."""

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from teamtrack.common.api.serializers import no_query


class Document(SpectacularJSONAPIView):
    """This document."""

    @extend_schema(parameters=[], responses=OpenApiTypes.OBJECT)
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        """Every address of the API, and nothing else."""
        no_query(request)
        answer: Response = self._get_schema_response(request)
        return answer
