"""Words that turn what sounds like an entry into something else: an order, a question, a plan, another patient."""

from __future__ import annotations

from typing import Literal

from voice.english.listed import phrases_of, words_of
from voice.english.other_cases import ELSEWHERE, PAST

Guard = Literal["order", "question", "not", "condition", "plan", "past", "elsewhere", "unsure", "nearly"]
"""Why something that sounds like an entry is none; `unsure` is asked, the others are left."""

IN_WORDS: dict[str, str] = {
    "order": "sounds like an order",
    "question": "sounds like a question",
    "not": "says that something is not so",
    "condition": "says what could or should be",
    "plan": "says what is still to come",
    "past": "says what was before",
    "elsewhere": "sounds like another tube or patient",
    "unsure": "was said to be unsure",
    "nearly": "is not done yet",
}
"""Guard -> why what was said is no entry, for people: it "sounds like an order"."""

GUARD_WORDS: dict[Guard, frozenset[str]] = {
    "order": words_of(
        """
        turn must please order pass give check let's lets inflate deflate push inject pop fill add insert remove
        withdraw pull advance release empty apply secure hang send ring call bring fetch keep wait watch ensure
        bin chuck drop squirt stick whack connect disconnect irrigate rinse document administer continue recheck
        reassess reposition roll sit lie prop tie fix tape tighten loosen lift unclamp reinflate retract wiggle
        page find grab pick request prepare transfuse intubate bolus don't attach dump gimme raise titrate
        kindly gonnae serve clamp position make bump hook shove stop suck wash aspirate
        """
    ),
    "question": words_of(
        """
        what who whose how when where who's whether anyone anybody what's where's how's why
        """
    ),
    "not": words_of(
        """
        barely scarcely nothing neither never no not without nobody none nor nah nope hardly unable naw nay
        """
    ),
    "condition": words_of(
        """
        may if unless should would could might otherwise provided supposing imagine suppose reckon assuming 'd
        whenever hypothetically ideally maximum max minimum target limit textbook normally usually generally
        typically theoretically typical suppose
        """
    ),
    "plan": words_of(
        """
        daily hourly weekly nightly eventually potentially soon planned before want will 'll gonna plan plans
        planning tomorrow later next due shall intend intending wants need needs ought expect expecting expected
        until till upcoming midnight noon lunchtime tonight wanna fixing booked scheduled programmed wean overnight
        tonight's
        """
    ),
    "past": words_of(
        """
        used earlier ago previous previously originally formerly historically yesterday
        """
    ),
    "elsewhere": words_of(
        """
        bay bed's beds corridor bathroom upstairs downstairs home catheter urine bladder ascitic ascites trach
        tracheostomy rectal feeding peg picc cannula neighbor other drain neighbour relative's adjacent cubicle
        geezer wifie pharmacy bathroom ventricular dialysis stoma colostomy isolation hospital hospitalization
        hospitalisation ambulance ambulances clinic lunch dinner breakfast sandwich sandwiches pizza taxi bus carpark
        parking motorway football match game goal holiday holidays vacation weekend wedding birthday school dog
        cat bicycle
        bike telly movie weather traffic salary euros dollars stairs kettle canteen cafeteria freezer roof garage garden
        vending elevator biscuits cake curry chips crisps beer pub cricket rugby hockey soccer basketball tennis golf
        exam thesis mortgage rent boiler plumber tyre tire tyres tires engine petrol diesel train airport flight
        beach colonic urethral suprapubic peak intracranial
        """
    ),
    "unsure": words_of(
        """
        presumably supposedly seemingly allegedly hopefully roughly likely unlikely arguably conceivably
        virtually perhaps possibly probably approximately approx either think guess maybe unsure
        """
    ),
    "nearly": words_of(
        """
        almost halfway partly partially nearly partway
        """
    ),
}
"""Why -> words that make an utterance no plain entry, unless a frame needs them."""

GUARD_PHRASES: dict[Guard, tuple[str, ...]] = {
    "order": phrases_of(
        """
        can you | could you | would you | will you | for me | go ahead and | make sure | tell me when
        when i tell you | when i say | i need you to | i want you to | we need to | you need to | has to be | have to
        need to | needs to | are to be | is to be | to be done | let us | says to | said to | asked you to | how about
        do not | if i say | don't let | don't go | no higher | no more than | no lower | not above | not below
        at most | at least | without asking | get ready | be ready | stand by | ready to | hold that | tell me
        you put | you must | you can | you give | you push | you take | you pull | you shout | should keep | should be
        i want | i 'd like | i would like | wants you | and inform | inform me | help me | off the traction ah
        go with | go for | go up to | go down to | take away | gis | giz | gie us | gie me | gie him | gie her
        you take
        you inflate | you deflate | you check | you get | you set | somebody | someone | we better | better to
        you'd better | if you would | when you get | on my sign | on my mark | on my word | on my command | on your go
        wait for my | one of you | get him to | get her to | ask him | ask her | ask them | tell him | tell her
        tell them | listen for | look for | watch for | check for | feel for | told me to | told us to | asked me to
        asked us to | tells me to | wants me to | wants us to
        said i should | said we should | let anaesthetist | let anaesthesia | let doctor | let nurse | let surgeon
        let team | let registrar | let consultant | let him | let her | let them | get me | get us | bring me
        bring us | pass me | pass us | hand me | hand us | find me | find us
        fetch me | fetch us | draw me | draw us | hold me | hold us | show me | show us
        """
    ),
    "question": phrases_of(
        """
        or not | do you think | what about | how much | how many | how far | any more | did you | did anyone
        did anybody | does he | does she | do i | do you | has anyone | has anybody | should we | should i | shall we
        shall i | can i | can we | can one | who has | am i | would you call | has somebody | did y'all
        whose idea | who put | who's put | who took | yes or no | how deep | how high | how low | how hard | is that
        have you | did yous | did youse | did ye | did yiz | did he | did she | did they | did someone | did somebody
        do yous | do ye | have yous | have ye | have y'all | are you | are yous | are ye | were you | is he | is she
        has he | has she | was he | was she | you seeing | you getting | you hearing | you got | y'all got
        you giving
        you putting | you happy | you sure | you reckon | you mean | you said | you say | you saying | or i | or we
        or do | or should | or will | or was | or are we | remind me | isn't it | should it | would it | could it
        will it | or is it | or is that | or did it | or has it | or are you | or you | good or bad | high or low
        too high or | too low or | normal or not | okay or not | enough or
        right or wrong | up or down | in or out | on or off | yes or no | is it normal | is it enough
        """
    ),
    "not": phrases_of(
        """
        yet to | not yet | as yet | fail to | failed to | refuse to | refused | instead of | rather than | no on
        no put | no been
        """
    ),
    "condition": phrases_of(
        """
        as long as | so long as | only when | provided that | some people | most people | other people
        some folk | some folks | say we | say you | say he | say she | say they | say there | say it is
        his usual | her usual | usual pressure | usual bp | normal for him | normal for her
        in case | in the event | worst case | say it | even if | only if | what if | once it | once he | once she
        once we | once bleeding | if it | you'd expect | would be | could be | could well | might be | may be
        had better | for all we know | up to you | if with | in case of | were he | were she | were it | best case
        in the guidelines | in guidelines | by the book you | i would have | you would | you 'd | we 'd | i 'd
        supposed to be | meant to be | on the boards | guideline says | guideline say | guidelines say
        guidelines says | book says
        textbook says | as the book has it | protocol says | policy says | one puts | one gives | one takes
        in theory | as a rule | can take | can hold | can go up to | could take | could hold
        his normal | her normal | their normal | normal is | normal 's
        """
    ),
    "plan": phrases_of(
        """
        looking for | aiming for | aiming at | aim for | shooting for | hoping for | looking to
        going to | about to | in a sec | in a second | in a minute | in a moment | in a bit | in half an hour
        in a half hour | in an hour | at midnight | in the morning | plan is | plan's | to be | was gonna
        were going to | was going to | in twelve hours | then comes | is to | are to | is at six | every # hours
        every # minutes | every hour | after two units | when you are ready | when you 're ready | when ready
        when you can | when possible | soon as | later on | on the way to | off you go | in here at | at six we
        at # we | in a while | in due course | for tonight | for the morning | for later | waiting for the go
        ready to be | ready to go on | wants to be | wants checking | want checking | is booked | for this night
        drawing up | being drawn up | drawn up ready | not in him | not in her | not in them | not in yet
        going soon | at this point to | in # hours' time | on its way out later | next week | next month | next year
        next shift | at noon | by noon | by midnight | from noon | at lunchtime | after lunch | come morning
        by morning | in # hours | at # tonight | at # tomorrow | before they go | before he goes | before she goes
        before we go
        """
    ),
    "past": PAST,
    "elsewhere": ELSEWHERE,
    "unsure": phrases_of(
        """
        i 'd say | i 'd have said | i would say | not sure | not certain | i think | i guess | i believe | or maybe
        or thereabouts | or something | or so
        more or less | give or take | hard to say | can't tell | not clear | might have been | could have been
        kind of | sort of | looks okay | jumping about | bouncing between | all over the place | keeps jumping
        lead is loose | somewhere between | somewhere around | in the region of | or | either | not counting
        lost count | i lost count | lost track | i am not sure | so so | read | can not read | can not count
        hard to read | hard to see | faded | is faded | doubtful | guessing | a guess | i reckon | something like
        roughly | call it | call that | we'll call it | they gave | they put | they had | they ran | they pulled
        they took | they inflated
        paramedics gave | crew gave | they said | meant to | supposed to
        """
    ),
    "nearly": phrases_of(
        """
        seconds from being | minutes from being | a second from being | inches from being | not far off | far off
        half way | part way | just about | nearly there | almost there | not quite | ready to go | almost through
        just about there | just about in | about there | getting there
        """
    ),
}
"""The same for words that only mean it together."""

FIRST_QUESTION = words_of("is are was were do does did can could should would will shall have has had am may might any")
"""Auxiliaries that make a question when they come first and a subject follows."""

ASKING = words_of("why how what when where who who's whose which what's where's how's when's")
"""Words that ask when they come first in a clause; within one they only join it: "where it crosses the teeth"."""

SUBJECTS = words_of(
    "the a an it he she we you i they that this there his her anyone anybody someone somebody my your our"
)

REPORTING = words_of("i we they he she nurse doctor doc sister registrar reg consultant anaesthetist")
"""Who may say what is done now: "I remove the clamp" is asked, "remove the clamp" is an order."""

ALWAYS_ORDER = words_of("please let's lets must gimme kindly gonnae don't")
"""Orders wherever they stand; other verbs only where an order stands: first, or after one of `BEFORE_AN_ORDER`."""

POLITE = words_of("please kindly")
"""Before a report they are only polite: "please, gastric is clamped"."""

BEFORE_AN_ORDER = words_of(
    "to please and then also you can could should must will would shall just kindly not never or now do let"
)

FIRST_ORDER = words_of(
    """
    put let cut set read hang hold shut open close take tell get bring move leave run change make do try measure
    write switch hook mind careful look listen allow force squeeze serve bump start begin commence position
    go shoot chuck kick throw stick
    """
)
"""Words that are an order when they come first and what is acted on follows."""

SAME_WHEN_DONE = words_of("put let set cut shut")
"""Verbs whose past is as their order: "let thirty out" is asked."""

FETCHING = words_of("get bring grab fetch find")
"""An order when they come first, whatever is wanted."""

FIRST_NOUN_OR_ORDER = words_of(
    """
        clamp drain mark wash suction aspirate lavage repeat stop test bag balloon zero level check flush tape
        secure empty
        """
)
"""Words that are an order when they come first and a thing follows at once: "suction the port", not "suction on"."""

NOUN_OR_VERB = words_of("aspirate drain suction lavage")
ACTED_FROM = words_of("from out off back into of with via through")
"""After a number they make a verb of such a word: "aspirate fifty from it", but "aspirate fifty, bloody"."""

ACTED_ON = SUBJECTS | words_of("both all some another him them these those one half more down up off out in")
"""Words after which such a first word is an order."""

VOCATIVES = words_of(
    """
    okay ok right alright so well yeah yep yes now and then sir madam mam ma'am doctor doc sister nurse boss mate lads
    guys team um uh er erm ah hey oh hello , y'all sorry folks but also kay man hon love pal buddy bro chief
    """
)
"""What may come before the first word that counts."""
