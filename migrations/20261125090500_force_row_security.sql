-- Why: no shop sees or touches another's rows, even if a statement forgets to say which shop it
-- means. The shop comes from the transaction (SET LOCAL leadhand.shop); after such a setting was
-- local once, it reads '' and not NULL, hence the nullif. FORCE makes the owner subject to policies
-- too; its own policy lets migrations and the definer functions see rows. A table made later needs
-- the same, and a test fails when one lacks it.

DO $$
DECLARE
    guarded text;
BEGIN
    FOREACH guarded IN ARRAY ARRAY[
        'head', 'journal', 'request', 'text_body',
        'shop', 'text_ref', 'calendar', 'open_window', 'shift_window', 'bay', 'person', 'token',
        'template_revision', 'vehicle', 'job', 'stay', 'stage', 'stage_after', 'step', 'blocker', 'clocking',
        'item', 'place', 'lot', 'balance', 'hold', 'stock_move', 'demand', 'reservation', 'shortage'
    ] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY', guarded);
        EXECUTE format('CREATE POLICY owner_sees_all ON %I TO leadhand_owner USING (true) WITH CHECK (true)', guarded);
        EXECUTE format(
            'CREATE POLICY shop_sees_own ON %I TO leadhand_app '
            'USING (shop = nullif(current_setting(''leadhand.shop'', true), '''')::uuid) '
            'WITH CHECK (shop = nullif(current_setting(''leadhand.shop'', true), '''')::uuid)', guarded);
        EXECUTE format('REVOKE ALL ON %I FROM PUBLIC', guarded);
        EXECUTE format('GRANT SELECT ON %I TO leadhand_app', guarded);
    END LOOP;
END
$$;

-- The head is made by open_head alone, and only moved here.
GRANT UPDATE ON head TO leadhand_app;

-- Written once.
GRANT INSERT ON journal, calendar, template_revision, stock_move TO leadhand_app;

GRANT INSERT, UPDATE ON
    shop, text_ref, bay, person, token, vehicle, job, stay, stage, stage_after, step, blocker, clocking,
    item, place, lot, balance, hold, demand, reservation, shortage, open_window, shift_window, request
    TO leadhand_app;
GRANT INSERT ON text_body TO leadhand_app;

-- Windows are resolved anew, texts are forgotten, old requests are purged; nothing else goes.
GRANT DELETE ON open_window, shift_window, text_body, request TO leadhand_app;
