-- The shelf: the documents of charts, journals of open sessions, locks, and other files.
-- Run by the owner, in one transaction. {daily} and {erasing} are the roles that use it.

CREATE TABLE limbscribe.sites (
    role name PRIMARY KEY,
    site text NOT NULL CHECK (site <> '')
);
COMMENT ON TABLE limbscribe.sites IS 'which rows a role that logs in may see; without a line, those without a site';

CREATE FUNCTION limbscribe.own_site() RETURNS text
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT coalesce((SELECT site FROM limbscribe.sites WHERE role = session_user), '') $$;

CREATE FUNCTION limbscribe.may_erase() RETURNS boolean
    LANGUAGE sql STABLE SET search_path = pg_catalog
    AS $$ SELECT pg_has_role(session_user, '{erasing}', 'MEMBER') $$;

CREATE SEQUENCE limbscribe.revisions;
CREATE SEQUENCE limbscribe.fences;

CREATE FUNCTION limbscribe.now_ns() RETURNS bigint
    LANGUAGE sql VOLATILE AS $$ SELECT (extract(epoch FROM clock_timestamp()) * 1e9)::bigint $$;

-- One line for each chart. A file that is not whole is kept as it is, without documents.
CREATE TABLE limbscribe.charts (
    id text COLLATE "C" PRIMARY KEY CHECK (id ~ '^[0-9a-f]{32}$'),
    site text NOT NULL DEFAULT limbscribe.own_site(),
    form integer NOT NULL DEFAULT 0,
    total text NOT NULL DEFAULT '',
    as_is bytea,
    size bigint NOT NULL,
    changed_ns bigint NOT NULL DEFAULT limbscribe.now_ns(),
    revision bigint NOT NULL DEFAULT nextval('limbscribe.revisions'),
    code text NOT NULL DEFAULT '',
    last timestamptz,
    came boolean NOT NULL DEFAULT false,
    entry jsonb,
    UNIQUE (id, site)
);
CREATE INDEX charts_code ON limbscribe.charts (code);
-- Every question is about one site, so that a small site is not looked for among all the others.
CREATE INDEX charts_last ON limbscribe.charts (site, last DESC NULLS LAST, code);
CREATE INDEX charts_revision ON limbscribe.charts (site, revision);

-- Every document as the bytes that are summed and signed, and as JSON to be asked about.
CREATE TABLE limbscribe.documents (
    chart text COLLATE "C" NOT NULL,
    kind text COLLATE "C" NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    site text NOT NULL DEFAULT limbscribe.own_site(),
    written bytea NOT NULL,
    body jsonb,
    PRIMARY KEY (chart, kind, number),
    FOREIGN KEY (chart, site) REFERENCES limbscribe.charts (id, site) ON DELETE CASCADE
);

CREATE FUNCTION limbscribe.keep_documents() RETURNS trigger
    LANGUAGE plpgsql SET search_path = pg_catalog AS $$
BEGIN
    IF NOT limbscribe.may_erase() THEN
        RAISE EXCEPTION USING ERRCODE = 'LS001',
            MESSAGE = 'what is in a chart is never changed or taken away by this role';
    END IF;
    RETURN coalesce(NEW, OLD);
END $$;
CREATE TRIGGER keep_documents BEFORE UPDATE OR DELETE ON limbscribe.documents
    FOR EACH ROW EXECUTE FUNCTION limbscribe.keep_documents();
CREATE TRIGGER keep_charts BEFORE DELETE ON limbscribe.charts
    FOR EACH ROW EXECUTE FUNCTION limbscribe.keep_documents();
CREATE TRIGGER keep_as_is BEFORE UPDATE OF id, site, as_is ON limbscribe.charts
    FOR EACH ROW WHEN (OLD.id <> NEW.id OR OLD.site <> NEW.site OR OLD.as_is IS DISTINCT FROM NEW.as_is)
    EXECUTE FUNCTION limbscribe.keep_documents();

-- What was accepted in sessions and amendments that are open, a row a line.
CREATE TABLE limbscribe.journals (
    site text NOT NULL DEFAULT limbscribe.own_site(),
    name text COLLATE "C" NOT NULL,
    changed_ns bigint NOT NULL DEFAULT limbscribe.now_ns(),
    revision bigint NOT NULL DEFAULT nextval('limbscribe.revisions'),
    PRIMARY KEY (site, name)
);
CREATE TABLE limbscribe.journal_lines (
    site text NOT NULL DEFAULT limbscribe.own_site(),
    name text COLLATE "C" NOT NULL,
    number integer NOT NULL,
    line bytea NOT NULL,
    PRIMARY KEY (site, name, number),
    FOREIGN KEY (site, name) REFERENCES limbscribe.journals ON DELETE CASCADE
);

-- Who has what open. A row that nobody renewed for some time is that of a dead holder.
CREATE TABLE limbscribe.locks (
    site text NOT NULL DEFAULT limbscribe.own_site(),
    name text COLLATE "C" NOT NULL,
    fence bigint NOT NULL DEFAULT nextval('limbscribe.fences'),
    holder jsonb,
    former jsonb,
    seen timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (site, name)
);

-- Everything else that a shelf keeps: copies set aside, and the record of erased patients.
CREATE TABLE limbscribe.folders (
    site text NOT NULL DEFAULT limbscribe.own_site(),
    folder text COLLATE "C" NOT NULL,
    PRIMARY KEY (site, folder)
);
CREATE TABLE limbscribe.files (
    site text NOT NULL DEFAULT limbscribe.own_site(),
    folder text COLLATE "C" NOT NULL,
    name text COLLATE "C" NOT NULL,
    data bytea NOT NULL,
    changed_ns bigint NOT NULL DEFAULT limbscribe.now_ns(),
    revision bigint NOT NULL DEFAULT nextval('limbscribe.revisions'),
    PRIMARY KEY (site, folder, name)
);
CREATE FUNCTION limbscribe.keep_tombstones() RETURNS trigger
    LANGUAGE plpgsql SET search_path = pg_catalog AS $$
BEGIN
    IF NOT limbscribe.may_erase() THEN
        RAISE EXCEPTION USING ERRCODE = 'LS002',
            MESSAGE = 'the record of erased patients is changed only by a role that may erase';
    END IF;
    RETURN coalesce(NEW, OLD);
END $$;
CREATE TRIGGER keep_tombstones_new BEFORE INSERT OR UPDATE ON limbscribe.files
    FOR EACH ROW WHEN (NEW.name = 'erased.json') EXECUTE FUNCTION limbscribe.keep_tombstones();
CREATE TRIGGER keep_tombstones_old BEFORE UPDATE OR DELETE ON limbscribe.files
    FOR EACH ROW WHEN (OLD.name = 'erased.json') EXECUTE FUNCTION limbscribe.keep_tombstones();

-- A site sees its own rows.
DO $$
DECLARE each text;
BEGIN
    FOREACH each IN ARRAY ARRAY['charts', 'documents', 'journals', 'journal_lines', 'locks', 'folders', 'files']
    LOOP
        EXECUTE format('ALTER TABLE limbscribe.%I ENABLE ROW LEVEL SECURITY', each);
        EXECUTE format(
            'CREATE POLICY own_site ON limbscribe.%I USING (site = (SELECT limbscribe.own_site()))'
            ' WITH CHECK (site = (SELECT limbscribe.own_site()))', each);
    END LOOP;
END $$;

GRANT USAGE ON SCHEMA limbscribe TO {daily}, {erasing};
GRANT USAGE ON SEQUENCE limbscribe.revisions, limbscribe.fences TO {daily}, {erasing};
GRANT SELECT ON limbscribe.migrations TO {daily}, {erasing};
GRANT SELECT, INSERT ON limbscribe.charts, limbscribe.documents TO {daily}, {erasing};
GRANT UPDATE (form, total, size, changed_ns, revision, code, last, came, entry) ON limbscribe.charts
    TO {daily};
GRANT SELECT, INSERT, UPDATE, DELETE ON limbscribe.journals, limbscribe.journal_lines,
    limbscribe.locks, limbscribe.folders, limbscribe.files TO {daily}, {erasing};
GRANT UPDATE, DELETE ON limbscribe.charts, limbscribe.documents TO {erasing};
