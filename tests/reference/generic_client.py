"""A client that knows nothing of the contract: it asks the server what it serves, and calls what it finds.

Usage: generic_client.py HOST:PORT TOKEN-FILE. Prints the services, then the names of the bays that GetBoard answers.
"""

import sys

import grpc
from google.protobuf import descriptor_pool, message_factory
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import ProtoReflectionDescriptorDatabase

address, token_file = sys.argv[1:]
with open(token_file, encoding="utf-8") as file:
    TOKEN = ("authorization", "Bearer " + file.read().strip())


class WithToken(grpc.StreamStreamClientInterceptor):
    """Reflection is asked with the token as well."""

    def intercept_stream_stream(self, continuation, details, requests):
        return continuation(details._replace(metadata=[TOKEN]), requests)


with grpc.insecure_channel(address) as channel:
    found = ProtoReflectionDescriptorDatabase(grpc.intercept_channel(channel, WithToken()))
    for service in sorted(found.get_services()):
        print(service)
    pool = descriptor_pool.DescriptorPool(found)
    method = pool.FindServiceByName("leadhand.v1.BoardService").FindMethodByName("GetBoard")
    asked = message_factory.GetMessageClass(method.input_type)
    answer = message_factory.GetMessageClass(method.output_type)
    call = channel.unary_unary(
        "/leadhand.v1.BoardService/GetBoard",
        request_serializer=asked.SerializeToString,
        response_deserializer=answer.FromString,
    )
    for bay in call(asked(), metadata=[TOKEN], timeout=20).bays:
        print("bay", bay.bay.bay)
