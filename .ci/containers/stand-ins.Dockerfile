# Broker and database for trying the composed service where no registry can be reached; not for production.
ARG BASE
FROM ${BASE} AS broker
RUN apt-get update -qq && apt-get install -y -qq --no-install-recommends redis-server && rm -rf /var/lib/apt/lists/* \
 && install -d -o redis -g redis /data
WORKDIR /data
USER redis

FROM ${BASE} AS database
RUN apt-get update -qq && apt-get install -y -qq --no-install-recommends postgresql && rm -rf /var/lib/apt/lists/* \
 && install -d -o postgres -g postgres -m 700 /var/lib/postgresql/data \
 && ln -s /usr/lib/postgresql/*/bin /usr/lib/postgresql/bin
COPY --chmod=755 database.sh /database.sh
ENV PATH=/usr/lib/postgresql/bin:$PATH PGHOST=/tmp
USER postgres
ENTRYPOINT ["/database.sh"]
