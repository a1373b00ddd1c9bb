"""What English says beside the matter itself in several words: comments that mean nothing for the log.

A comment is one as a whole: none of its words has to mean nothing alone (`harmless` has those that do).
"""

from __future__ import annotations

from voice.english.listed import phrases_of, words_of

_TROUBLES = words_of(
    """
    problem problems bother hassle drama dramas fuss issue issues trouble troubles worries worry difficulty
    difficulties
    complication complications incident incidents mishap mishaps delay delays stress grief struggle fight sweat
    """
)

_NO = (
    "no",
    "without",
    "without any",
    "zero",
    "no real",
    "no more",
    "with no",
    "not any",
    "nil",
    "no major",
    "no big",
    "without a",
)

_OF_THE_LOG = tuple(
    f"{ask} {verb}{rest}"
    for ask in ("please", "kindly", "do", "please do", "can you please", "pls", "just")
    for verb in phrases_of(
        """
        log | note | record | write | enter | chart | document | register | update | add | mark down | see | make note
        take note
        """
    )
    for rest in ("", " that", " this", " down", " down that", " in", " it", " in the log")
)
"""Who asks the log to note what follows only says it politely."""

_SIZES = (6, 6.5, 7, 7.5, 8, 8.5, 9, 60, 65, 70, 75, 80, 85, 90)
_TUBES = tuple(f"{size:g} {tube}" for size in _SIZES for tube in ("tube", "e t t"))
"""Sizes of a tube for the airway; said digit by digit, 8.0 is 80."""

_COMMENTS = phrases_of(
    """
    down the hatch | went easy | went in easy | went down easy | on norepi | on norad | on noradrenaline
    on norepinephrine | on pressors | on pressor | on vasopressors
    on inotropes | on vasopressor support | on pressor support | with pressors | on adrenaline | on a pressor
    did it myself | did it meself | did that myself | done it myself | done it meself | did it himself | did it herself
    did that one myself | i did it | i did it myself | did it just now | did that just now | saw to it myself
    the one in brackets | that's the one in brackets | number in brackets | in brackets | bracketed one
    the bottom number | the top number | the small number | the number below | the number on the right
    portable one | mobile one | i watched it go | i watched it | i saw it go | i saw it go in | watched it go in
    i watched it go in | saw it with my own eyes | i was watching | we all saw it | everyone saw | everybody saw it
    everybody answered | everyone answered | everybody agreed | everyone agreed | everyone breathe | all agreed
    he was restless | she was restless | he was agitated | she was agitated | he's restless | she's restless
    he was uncomfortable | she was uncomfortable | he was retching | she was retching | he was gagging
    i didn't catch | i didn't catch it | i didn't catch that | i didn't hear | i didn't hear it | didn't catch that
    didn't hear that | i missed it | i missed that | missed that | missed it | on board | on board now | got the lot
    in the notes | away in the notes | it's in the notes | in his notes | in her notes | in the chart | in the file
    it was high | it was too high | it was a bit high | it was low | it was too low | mind | no leak noted
    spoke too soon | i spoke too soon | until the end | to the end | just after | after that | after this
    after intubation | after inflation | after the pull back | after putting | up top | with the tube down
    this time | that time | please record | please record that | please log | please log that | please note that
    kindly record | kindly note that | kindly log | be advised | for the file then | please be advised
    record that please | for your info | take note please | per hour | an hour | in the hour | past hour
    last hour | this hour | wide open | rapid sequence | grade one view | grade two view | # oh tube | size # tube
    size # | # point # tube | number # tube | in good order | by the book | as per protocol | per protocol
    not a bother | not a problem | no hassle | no fuss at all | easy as you like | sweet as | as sweet as
    good as gold | and done | all done and dusted | done and dusted | signed off on | at around
    or thereabouts then | i see | we see | i have been through it | through it myself | went ahead and
    gone ahead and | had to | managed to | got to | as soon as theatre's free | as soon as possible | first thing
    this evening | this afternoon | this morning | as told by doctor | as told | as ordered | as asked
    as planned | as agreed | as discussed | as before | as requested | same as before | same as last time
    same as earlier | like before | as we speak | for now | for you | right now | by the way
    for your information | to be clear | to confirm | just so you know | for the log | for the record then
    first go | first pass | first attempt | second go | second attempt | on the second go | at the first attempt
    in # goes | in # steps | over # goes | came in # goes | in one go | in a single go | in # shots | in # pushes
    in one piece | all of it | the lot | bit by bit | little by little | no problem | no problems | no issues
    no trouble | no bother | no worries | no drama | no fuss | without problem | without problems | without issue
    without trouble | without difficulty | without complication | happy with that | happy with it | that's that
    there we go | there you go | all good | all right | looks good | looking good | looks fine | good stuff
    job done | well done | at last | so far | on my count | give or take nothing | hand on heart | thank you
    thanks a million | by myself | with my own hands | this minute | this second | this moment | just this minute
    at this time | at this point | at the moment | as of now | since # minutes | since one minute | since a minute
    # minutes ago | a minute ago | a moment ago | just a moment ago | a second ago | a couple of minutes ago
    for # minutes now | after test dose | i v | iv | intravenous | intravenously | on # litres | on # liters
    on room air | on oxygen | through the night so far | per minute | a minute | per min
    two by sixty mil syringes | on # percent | on the monitor | on the chart | on the screen | in the room
    i can tell you | i can report | i have to report | i want to report | you can log | you can write | log this
    log that | put down that | write down that | let me say | so that's | that's it | and that's it | and holding
    and steady | no change | without change | unchanged from before | touch wood | knock on wood | thank god
    thank goodness | # check | # hundred check | # o'clock check | # o'clock | # hundred hours | hourly check
    on the hour | report awaited | awaiting report | result awaited | for the chart | to be exact | to be precise
    since tube went down | since tube in | since we started | one minute since | in seconds | in a few seconds
    with no problems | report to follow | as we agreed | made | use | used for | my side | from my side
    on our side | on my side | whole lot of it | in the end | in end | at the end | to the letter | on the dot
    on dot | on the nose | right on the nose | on the button | at the first time of asking | first time of asking
    first time | like a dream | like butter | like a charm | like a lamb | like clockwork | like silk | like magic
    as a whistle | as a bell | as rain | as gold | as you please | as anything | as pie | as houses | in no time
    in a jiffy | with ease | with care | with no fuss | with no bother | with no trouble | with no problem
    with no drama | with my colleague | with the team | with two people | under direct vision | under vision
    under laryngoscopy | with laryngoscope | with videolaryngoscope | double checked | double check done
    checked twice | checked by two | two person check | counted twice | as per plan | per plan | per order
    per doctor | per doctor's order | per consultant | as per doctor | as per order | as per orders
    as per consultant | on doctor's orders | as instructed | as directed | as prescribed | as charted | as advised
    that's what i got | that's what i have | that's what we have | that's what i see | that's me | that's him
    that's her | that's us | that's them | so there | there now | there it is | here it is | here you go
    here we go | that's grand | that's good | that's great | that's all | that's all of it | that's the lot
    for the moment | as it stands | he tolerated it | she tolerated it | he tolerated it well
    she tolerated it well | patient tolerated | patient tolerated well | tolerated well | tolerating well
    he's comfortable | she's comfortable | he's easier | she's easier | he's happier | she's happier | he's happy
    she's happy | he felt better | she felt better | felt way better | feels better | he feels better
    she feels better | he was coughing | she was coughing | he was tensing | he was tensing up
    she was tensing up | tensing up | he's settled down | he's calmer | she's calmer | he's calm | she's calm
    dear god | oh god | my god | oh my god | oh lord | good lord | good grief | oh dear | oh boy | oh man
    oh well | mind you | about right | right enough | fair enough | sure enough | to be sure | so to say
    so to speak | let's say | shall we say | as they say | note please | please note | for the notes
    for the records | for record | for our records | for your records | for the sheet | for documentation
    into the log | in the log | on the log | onto the log | to the log | get that down | get this down
    put this down | put it down | log it please | log please | not great | not bad | not too bad | not ideal
    not pretty | not brilliant | not wonderful | not fantastic | not perfect | not a moment too soon | not joking
    not kidding | no joke | no messing | no doubt | no question | no doubts | without doubt | without a doubt
    no mistake | no surprise | no matter | no less | no word of a lie | all sorted | all set now | all done now
    already done | done already | done now | done that | done it | is done | was done | been done | it was | it is
    they were | there was | there were | that was it | in front of me | in front of us | before my eyes
    with my own eyes | i can see | i can see it | we can see | as you can see | as i see it | on my watch
    by my watch | by the clock | by clock | by wall clock | on the wall clock | per the clock | at this stage
    at this juncture | by now | till now | until now | up until now | to this point | up to this point
    since then | time now | time now # | hours now | time is # | time being # | at # hours | at # o'clock
    # past # | # to the hour | half past # | quarter past # | quarter to # | at half past # | at quarter past #
    at quarter to # | over # minutes | over # seconds | over one minute | over a minute | over half a minute
    over # hours | over an hour | within # minutes | within # seconds | within a minute | in under a minute
    in under # minutes | for # seconds | # minutes back | a minute back | # seconds ago | # minutes since
    about # minutes ago | some # minutes ago | few minutes ago | a few minutes ago | couple of minutes back
    a few minutes back | a little while ago | a while ago | a short while ago | moments ago | in # divided doses
    in divided doses | in # aliquots | in # instalments | in two halves | in two goes | in two lots | in # lots
    by # steps | in small steps | in small aliquots | in steps of # | in steps | bit at a time | a bit at a time
    a little at a time | # at a time | in stages | too tight | bit too tight | it was too tight | were too tight
    it were too tight | slow push | slowly slowly | nice and slow | nice and easy | nice and steady
    nice and slowly | slow and steady | ever so slowly | easy does it | real slow | real easy | real nice
    # oh e t t | a # oh tube | size # e t t | # point # e t t | # french | # fr | grade # view | grade #
    grade one | grade two | grade three | first look | first shot | first try | first try itself | at first try
    on first try | second try | third go | third attempt | on third attempt | one hand | two hands | by hand
    with both hands | by the syringe | by syringe | with the syringe | with syringe | using syringe
    using the syringe | with a syringe | using a syringe
    like a knife through butter | like a hot knife through butter | sweet as a nut | right as rain | good as new
    as good as new
    as good as gold | as it should be | as it should | as it ought | as expected | as usual | as always
    as ever | as normal
    as per usual | as per routine | as per policy | as per guideline | as per guidelines | as per sop
    as per the chart
    as per the prescription | as per prescription | as per instructions | as per instruction | per instructions
    per policy
    on the doctor's orders | on doctor's order | on consultant's orders | on the consultant's word
    by the doctor | by doctor
    by the nurse | by nurse | by sister | by the registrar | by the consultant | by the anaesthetist | by anaesthesia
    by our colleague | by a colleague | by my colleague | by the team | by the intern | by the resident | by the boss
    with the help of | with help of | with help from | with help | with assistance | with a second pair of hands
    with a bit of effort | with some effort | with effort | with a little effort | with a bit of help
    with a hand from
    just to say | just to let you know | just to note | just for the record | just so it's noted | just so we know
    just so it is known | for your notes | for your log | for your chart | for your sheet | for the scribe | for scribe
    for the board | for the whiteboard | for the books | for the book | for the audit | for the tape | for posterity
    if anyone's asking | if anybody's asking | if you're writing | if you're logging | if you're keeping count
    if you're keeping score | if you're counting | if you please | if you don't mind | if you wouldn't mind
    thanks be to god | thanks to god | god bless | god be praised | praise god | praise be | praise the lord
    thank the lord
    bless him | bless her | god help us | god willing | touch wood | fingers crossed | knock wood
    cross fingers | hallelujah
    so we are | so i am | so he is | so she is | so it is | so they are | so i have | so we have | so i did | so it did
    so he has | so she has | so he did | so she did | so that is | so that's us | i tell you | i tell ye
    i'm telling you
    i am telling you | let me tell you | i can confirm | i confirm that | we confirm that | i report | i report that
    we report | i state | i declare | i inform | i inform you | i inform that | we inform | to inform | informing
    you see | y'know | d'you know | as you know | you can see | you may note | you may log | you may write
    you may record | you can note | you can record | you can put that down | you can chart that | you can mark that
    write it down | note it down | put that in | stick that in the log | stick that in | pop that in the log
    pop that down
    get it down | mark it down | mark that down | chart it | chart that | log it down | take it down
    that's for the log
    this one's for the log | one for the log | one for the record | here's one for the log | for the log please
    what a relief | that's a relief | about time | about time too | not before time | at long last | after all
    after all that
    in the nick of time | better late than never | nearly there now lads | that's more like it | that's the ticket
    that's the stuff | that'll do nicely | happy days | no sweat | job's a good one | job's a good 'un
    bob's your uncle
    easy peasy | piece of cake | piece of piss | walk in the park | plain sailing | clean as a whistle | neat as a pin
    in a oner | in one | in one swoop | in one push | in one single push | in one shot | in a few goes | in three goes
    all in one go | all at once | all in one | at one go | at a go | in one attempt | on first attempt | from the first
    at the first go | at first go | first time lucky | with a bit of lube | with plenty of lube | with lots of lube
    with gentle pressure | with gentle push | with steady pressure | with slow pressure | with a gentle push
    since five minutes | for five minutes now | this past hour | the past hour | past # minutes | in the past hour
    in the last hour | the last hour | over the last hour | over the past hour | in the last # minutes
    over the last # minutes | in the past # minutes | within the hour | as of this minute | as of this moment
    as of # hours | as of # | from now on | from this moment | from this point | from here on | here and now
    right this second | right this minute | right this moment | this very minute | this very second | this very moment
    at present | at this minute | at this second | at this very moment | at this hour | at the present time
    at the present moment | for the time being | for the minute | for the present | until further notice
    massive transfusion | massive haemorrhage protocol | massive transfusion protocol | m t p | code red
    major haemorrhage call | at last | i'm afraid | i am afraid | i felt it | i felt it go | we felt it | felt it go
    as far as i can see | as far as i can tell | as far as we can see | as far as we can tell | far as i can see
    far as i can tell | where we can all see it | where we can all see them | where we can see it
    where we can see them | where everyone can see it | where everyone can see them | bit of a rest | bit of rest
    everybody said their name | everyone said their name | everybody's said their name | on a bit of tape | bit of tape
    on account of | owing to | due to | because of
    packaged | strapped in | strapped down | for the climb | for the descent | for the flight | before the flight
    a bit tight | bit tight | that's tight | felt tight | too tight | felt way too tight | way too tight
    hourlies | hourly obs | hourly checks | hourly check | hourly numbers | in the syringe | the syringe slipped
    hanging in there | in the syringe barrel | left in the barrel | with tape | with a bit of tape | with some tape
    where they should be | where it should be | where they belong | where it belongs
    bit of string | piece of string | on a string | you bet | turn up for books | poor thing | poor soul | poor man
    poor woman | poor fella | poor lad | poor love | poor divil | poor devil
    both of them | both of em | pair of them | pair of em | two of them | lot of them
    """
)

_DEAD = tuple(f"dead {how}" for how in words_of("pale easy slow straight quick nice good simple smooth"))
""" "Dead" before what only says how is "very"."""

_CIRCUMSTANCES = tuple(
    f"{when} {what}"
    for when in ("after", "since", "following", "with")
    for what in words_of(
        "traction inflation inflating deflation insertion placement intubation clamping lavage transfusion "
        "repositioning"
    )
    if when != "with" or what in ("inflation", "insertion")
)
"""When it was, by what was done to the patient: "bleeding stopped after traction"."""

_PERCEIVED = phrases_of(
    "you know | can see | can hear | can feel | i can see | i can hear | i can feel | we can see | we can hear"
)

COMMENTS = (
    *_PERCEIVED,
    *_CIRCUMSTANCES,
    *_DEAD,
    *_COMMENTS,
    *(f"{no} {trouble}" for no in _NO for trouble in sorted(_TROUBLES)),
    *_OF_THE_LOG,
    *_TUBES,
)
"""Comments that change nothing, as a whole; `#` is any number. "No problem" is one, "no bleeding" is not."""
