-- Two roles and the database, once, as a superuser: psql --file=roles.sql, passwords in the environment (psql 15 or later).
-- studbook_owner owns the tables and migrates them. studbook_serve answers requests: it owns nothing, and row security
-- holds for it, which `studbook serve` checks before it starts.
\set ON_ERROR_STOP on
\getenv owner_password OWNER_PASSWORD
\getenv serve_password SERVE_PASSWORD

CREATE ROLE studbook_owner LOGIN PASSWORD :'owner_password';
CREATE ROLE studbook_serve LOGIN PASSWORD :'serve_password';
CREATE DATABASE studbook OWNER studbook_owner TEMPLATE template0 ENCODING 'UTF8' LOCALE 'C';
REVOKE ALL ON DATABASE studbook FROM PUBLIC;
GRANT CONNECT ON DATABASE studbook TO studbook_serve;
