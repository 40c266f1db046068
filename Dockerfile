# Kept right by reading: it could not be built where the project is made.
FROM golang:1.26-alpine AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN CGO_ENABLED=0 go build -tags=nodynamic -trimpath -ldflags="-s -w" -o /leafgauge ./cmd/leafgauge
RUN mkdir /empty

FROM alpine:3
COPY --from=build /leafgauge /usr/local/bin/leafgauge
# A volume takes over the owner of the folder that it is mounted on.
COPY --from=build --chown=10001:10001 /empty /data
USER 10001:10001
ENV LEAFGAUGE_DATA=/data LEAFGAUGE_LISTEN=0.0.0.0:8080
VOLUME /data
EXPOSE 8080
ENTRYPOINT ["leafgauge"]
CMD ["serve"]
