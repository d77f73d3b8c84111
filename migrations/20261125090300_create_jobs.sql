-- Why: what is done to which vehicle, where, by whom and when. The checks mirror the states, and the
-- exclusion constraints are the second lock on: one vehicle a bay, one bay a vehicle, one stage a
-- person, at any instant; a unique index is the one on: one open job a vehicle. A range must hold at least a microsecond, because an empty one would pass
-- every exclusion constraint.

CREATE TABLE template_revision (
    shop uuid NOT NULL,
    template typed_key NOT NULL,
    revision integer NOT NULL CHECK (revision > 0),
    title text NOT NULL,
    doc jsonb NOT NULL CHECK (jsonb_typeof(doc) = 'object'),
    published_at timestamptz NOT NULL,
    published_n bigint NOT NULL CHECK (published_n > 0),
    PRIMARY KEY (shop, template, revision)
);

CREATE TABLE vehicle (
    shop uuid NOT NULL,
    vehicle uuid NOT NULL,
    label uuid NOT NULL,
    weight_kg integer CHECK (weight_kg > 0),
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, vehicle)
);

CREATE TABLE job (
    shop uuid NOT NULL,
    job bigint NOT NULL CHECK (job > 0),
    template typed_key,
    revision integer CHECK (revision > 0),
    title text,
    title_text uuid,
    vehicle uuid NOT NULL,
    priority integer NOT NULL,
    promised_at timestamptz,
    state text NOT NULL CHECK (state IN ('open', 'completed', 'cancelled')),
    options jsonb NOT NULL CHECK (jsonb_typeof(options) = 'array'),
    opened_at timestamptz NOT NULL,
    closed_at timestamptz,
    reason uuid,
    last_blocker integer NOT NULL CHECK (last_blocker >= 0),
    last_stage integer NOT NULL CHECK (last_stage >= 0),
    version bigint NOT NULL CHECK (version > 0),
    PRIMARY KEY (shop, job),
    CONSTRAINT job_template_with_revision CHECK ((template IS NULL) = (revision IS NULL)),
    CONSTRAINT job_one_title CHECK (num_nonnulls(title, title_text) = 1),
    CONSTRAINT job_open_until_closed CHECK ((state = 'open') = (closed_at IS NULL)),
    CONSTRAINT job_reason_when_cancelled CHECK ((state = 'cancelled') = (reason IS NOT NULL)),
    CONSTRAINT job_closed_after_opened CHECK (closed_at >= opened_at)
);
CREATE INDEX job_open ON job (shop, job) WHERE state = 'open';
CREATE UNIQUE INDEX job_one_open_a_vehicle ON job (shop, vehicle) WHERE state = 'open';
CREATE INDEX job_by_closing ON job (shop, closed_at) WHERE closed_at IS NOT NULL;

CREATE TABLE stay (
    shop uuid NOT NULL,
    stay uuid NOT NULL,
    bay typed_key NOT NULL,
    vehicle uuid NOT NULL,
    job bigint NOT NULL,
    from_at timestamptz NOT NULL,
    until_at timestamptz,
    why_left text CHECK (why_left IN ('moved', 'rolled-out', 'job-ended')),
    from_n bigint NOT NULL CHECK (from_n > 0),
    until_n bigint CHECK (until_n > 0),
    PRIMARY KEY (shop, stay),
    CONSTRAINT stay_not_empty CHECK (until_at > from_at),
    CONSTRAINT stay_ended_with_reason CHECK (num_nulls(until_at, why_left, until_n) IN (0, 3)),
    CONSTRAINT stay_one_vehicle_a_bay
        EXCLUDE USING gist (shop WITH =, bay WITH =, tstzrange(from_at, until_at, '[)') WITH &&),
    CONSTRAINT stay_one_bay_a_vehicle
        EXCLUDE USING gist (shop WITH =, vehicle WITH =, tstzrange(from_at, until_at, '[)') WITH &&)
);
CREATE INDEX stay_by_bay ON stay (shop, bay, (coalesce(until_at, 'infinity')));
CREATE INDEX stay_by_vehicle ON stay (shop, vehicle, (coalesce(until_at, 'infinity')));
CREATE INDEX stay_by_job ON stay (shop, job);

CREATE TABLE stage (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    ordinal integer NOT NULL,
    title text,
    title_text uuid,
    kind text NOT NULL CHECK (kind IN ('work', 'wait')),
    low integer NOT NULL CHECK (low >= 0),
    likely integer NOT NULL,
    high integer NOT NULL,
    bays jsonb NOT NULL CHECK (jsonb_typeof(bays) = 'array'),
    skills jsonb NOT NULL CHECK (jsonb_typeof(skills) = 'array'),
    hands integer NOT NULL CHECK (hands >= 0),
    tools jsonb NOT NULL CHECK (jsonb_typeof(tools) = 'array'),
    may_leave boolean NOT NULL,
    unplanned boolean NOT NULL,
    state text NOT NULL CHECK (state IN ('pending', 'active', 'finished', 'skipped')),
    ready_at timestamptz,
    ready_n bigint CHECK (ready_n > 0),
    waiting boolean NOT NULL,
    started_at timestamptz,
    started_n bigint CHECK (started_n > 0),
    ended_at timestamptz,
    ended_n bigint CHECK (ended_n > 0),
    reason uuid,
    last_step integer NOT NULL CHECK (last_step >= 0),
    PRIMARY KEY (shop, job, stage),
    CONSTRAINT stage_one_title CHECK (num_nonnulls(title, title_text) = 1),
    CONSTRAINT stage_minutes_in_order CHECK (low <= likely AND likely <= high),
    CONSTRAINT stage_ready_with_number CHECK ((ready_at IS NULL) = (ready_n IS NULL)),
    CONSTRAINT stage_started_with_number CHECK ((started_at IS NULL) = (started_n IS NULL)),
    CONSTRAINT stage_ended_with_number CHECK ((ended_at IS NULL) = (ended_n IS NULL)),
    CONSTRAINT stage_waiting_when_ready CHECK (NOT waiting OR ready_at IS NOT NULL),
    CONSTRAINT stage_ended_when_over CHECK ((state IN ('finished', 'skipped')) = (ended_at IS NOT NULL)),
    CONSTRAINT stage_pending_not_started CHECK (state <> 'pending' OR started_at IS NULL),
    CONSTRAINT stage_active_started CHECK (state <> 'active' OR started_at IS NOT NULL),
    CONSTRAINT stage_reason_when_skipped CHECK (state <> 'skipped' OR reason IS NOT NULL),
    CONSTRAINT stage_ended_after_started CHECK (ended_at >= started_at),
    CONSTRAINT stage_ended_after_ready CHECK (ended_at >= ready_at)
);
CREATE INDEX stage_waiting ON stage (shop, ready_at) WHERE waiting;

CREATE TABLE stage_after (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    after typed_key NOT NULL,
    wait_minutes integer NOT NULL CHECK (wait_minutes >= 0),
    PRIMARY KEY (shop, job, stage, after),
    CONSTRAINT stage_after_another CHECK (stage::text <> after::text)
);

CREATE TABLE step (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    step integer NOT NULL CHECK (step > 0),
    instruction text,
    instruction_text uuid,
    tools jsonb NOT NULL CHECK (jsonb_typeof(tools) = 'array'),
    cautions jsonb NOT NULL CHECK (jsonb_typeof(cautions) = 'array'),
    needs jsonb NOT NULL CHECK (jsonb_typeof(needs) = 'array'),
    unplanned boolean NOT NULL,
    state text NOT NULL CHECK (state IN ('pending', 'done', 'skipped')),
    done_at timestamptz,
    done_by uuid,
    done_n bigint CHECK (done_n > 0),
    reason uuid,
    PRIMARY KEY (shop, job, stage, step),
    CONSTRAINT step_one_instruction CHECK (num_nonnulls(instruction, instruction_text) = 1),
    CONSTRAINT step_done_with_number CHECK ((done_at IS NULL) = (done_n IS NULL)),
    CONSTRAINT step_done_has_time CHECK (state <> 'done' OR done_at IS NOT NULL),
    CONSTRAINT step_pending_not_done CHECK (state <> 'pending' OR num_nonnulls(done_at, done_by, reason) = 0),
    CONSTRAINT step_reason_when_skipped CHECK ((state = 'skipped') = (reason IS NOT NULL))
);

CREATE TABLE blocker (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    blocker integer NOT NULL CHECK (blocker > 0),
    stage typed_key NOT NULL,
    cause text NOT NULL CHECK (cause IN ('part', 'tool', 'person', 'customer', 'sent-out', 'seized-or-damaged',
        'safety', 'bay', 'information')),
    owner uuid,
    expected_at timestamptz,
    note uuid,
    step integer,
    item typed_key,
    since timestamptz NOT NULL,
    raised_n bigint NOT NULL CHECK (raised_n > 0),
    cleared_at timestamptz,
    cleared_n bigint CHECK (cleared_n > 0),
    cleared_note uuid,
    PRIMARY KEY (shop, job, blocker),
    CONSTRAINT blocker_cleared_with_number CHECK ((cleared_at IS NULL) = (cleared_n IS NULL)),
    CONSTRAINT blocker_note_when_cleared CHECK (cleared_note IS NULL OR cleared_at IS NOT NULL),
    CONSTRAINT blocker_cleared_after_raised CHECK (cleared_at >= since)
);

CREATE TABLE clocking (
    shop uuid NOT NULL,
    clocking uuid NOT NULL,
    person uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    from_at timestamptz NOT NULL,
    until_at timestamptz,
    on_n bigint NOT NULL CHECK (on_n > 0),
    off_n bigint CHECK (off_n > 0),
    -- The lead's reason, when the person lacks a skill that the stage asks for.
    overridden uuid,
    PRIMARY KEY (shop, clocking),
    CONSTRAINT clocking_not_empty CHECK (until_at > from_at),
    CONSTRAINT clocking_off_with_number CHECK ((until_at IS NULL) = (off_n IS NULL)),
    CONSTRAINT clocking_one_stage_a_person
        EXCLUDE USING gist (shop WITH =, person WITH =, tstzrange(from_at, until_at, '[)') WITH &&)
);
CREATE INDEX clocking_by_person ON clocking (shop, person, (coalesce(until_at, 'infinity')));
CREATE INDEX clocking_by_job ON clocking (shop, job);
